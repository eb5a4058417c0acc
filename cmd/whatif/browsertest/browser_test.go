package browsertest

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/dom"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// top is the folder of the library's module.
const top = "../../.."

// browser is the one that all tests share, nil where there is none.
var browser context.Context

// pages has the file of each page that was made, by name.
var pages struct {
	sync.Mutex
	dir, command string
	made         map[string]string
}

func TestMain(m *testing.M) {
	os.Exit(func() int {
		dir, err := os.MkdirTemp("", "report")
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			return 1
		}
		defer os.RemoveAll(dir)
		pages.dir, pages.command, pages.made = dir, filepath.Join(dir, "whatif"), map[string]string{}
		build := exec.Command("go", "build", "-o", pages.command, "./cmd/whatif")
		build.Dir = top
		if out, err := build.CombinedOutput(); err != nil {
			fmt.Fprintf(os.Stderr, "cannot build whatif: %v\n%s", err, out)
			return 1
		}
		if path := findBrowser(); path != "" {
			options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU, chromedp.Flag("disable-dev-shm-usage", true))
			all, done := chromedp.NewExecAllocator(context.Background(), options...)
			defer done()
			var close context.CancelFunc
			browser, close = chromedp.NewContext(all)
			defer close()
			if err := chromedp.Run(browser); err != nil {
				fmt.Fprintln(os.Stderr, "cannot start the browser:", err)
				return 1
			}
		}
		return m.Run()
	}())
}

func findBrowser() string {
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome", "chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	return ""
}

// page makes a page once and gives its file. A name is a harness, and a readings
// file after a colon.
func page(t *testing.T, name string) string {
	t.Helper()
	pages.Lock()
	defer pages.Unlock()
	if file := pages.made[name]; file != "" {
		return file
	}
	file := filepath.Join(pages.dir, strings.NewReplacer("/", "_", ":", "_").Replace(name)+".html")
	var args []string
	for _, f := range strings.Split(name, ":") {
		path, err := filepath.Abs(filepath.Join(top, f))
		if err != nil {
			t.Fatal(err)
		}
		args = append(args, path)
	}
	if out, err := exec.Command(pages.command, append(append([]string{"report"}, args...), "-o", file)...).CombinedOutput(); err != nil {
		t.Fatalf("whatif report %s: %v\n%s", name, err, out)
	}
	pages.made[name] = file
	return file
}

const (
	bench      = "examples/bench/harness.yaml"
	orchard    = "examples/orchard/harness.yaml"
	silentSide = orchard + ":examples/orchard/silent-side.yaml"
	hostile    = "cmd/whatif/testdata/hostile-names.yaml"
)

// tab is one page open in the browser.
type tab struct {
	t   *testing.T
	ctx context.Context

	mu sync.Mutex
	// complaints are what the browser's console has of errors and warnings, asked
	// what was fetched.
	complaints, asked []string
}

// open opens a page in a window of that size. At the end the console must be empty,
// and nothing must have been fetched but the page itself.
func open(t *testing.T, name string, width, height int64, before ...chromedp.Action) *tab {
	t.Helper()
	if browser == nil {
		if os.Getenv("OHMLOOM_LIVE") == "required" {
			t.Fatal("no browser; apt-get install -y --no-install-recommends chromium")
		}
		t.Skip("no browser")
	}
	ctx, close := chromedp.NewContext(browser)
	t.Cleanup(close)
	ctx, stop := context.WithTimeout(ctx, 2*time.Minute)
	t.Cleanup(stop)
	b := &tab{t: t, ctx: ctx}
	chromedp.ListenTarget(ctx, func(event any) {
		b.mu.Lock()
		defer b.mu.Unlock()
		switch e := event.(type) {
		case *runtime.EventExceptionThrown:
			b.complaints = append(b.complaints, e.ExceptionDetails.Error())
		case *runtime.EventConsoleAPICalled:
			b.complaints = append(b.complaints, fmt.Sprint(e.Type, e.Args))
		case *log.EventEntryAdded:
			b.complaints = append(b.complaints, e.Entry.Text)
		case *network.EventRequestWillBeSent:
			b.asked = append(b.asked, e.Request.URL)
		}
	})
	url := "file://" + page(t, name)
	b.do(network.Enable(), log.Enable(), cdppage.BringToFront(), emulation.SetFocusEmulationEnabled(true), chromedp.EmulateViewport(width, height))
	b.do(before...)
	b.do(chromedp.Navigate(url))
	t.Cleanup(func() {
		b.mu.Lock()
		defer b.mu.Unlock()
		for _, c := range b.complaints {
			t.Errorf("the console says: %s", c)
		}
		for _, a := range b.asked {
			if a != url && !strings.Contains(a, `<filter id="f">`) { // the browser's own, for pictures in grey
				t.Errorf("the page fetched %s", a)
			}
		}
		if len(b.asked) == 0 {
			t.Error("not even the page itself was seen being fetched: this test watches nothing")
		}
	})
	return b
}

func (b *tab) do(actions ...chromedp.Action) {
	b.t.Helper()
	if err := chromedp.Run(b.ctx, actions...); err != nil {
		b.t.Fatal(err)
	}
}

// eval runs a script and puts what it gives into out.
func (b *tab) eval(script string, out any, options ...chromedp.EvaluateOption) {
	b.t.Helper()
	b.do(chromedp.Evaluate(script, out, options...))
}

// awaited has eval wait for a promise.
func awaited(p *runtime.EvaluateParams) *runtime.EvaluateParams { return p.WithAwaitPromise(true) }

// nodes finds elements in the tree of the document, where no script may ask. chromedp
// asks for that tree too, which makes the numbers of nodes void: then it is done again.
func (b *tab) nodes(selector string, use func(ctx context.Context, found []cdp.NodeID) error) {
	b.t.Helper()
	b.do(chromedp.ActionFunc(func(ctx context.Context) (err error) {
		for range 10 {
			var root *cdp.Node
			var found []cdp.NodeID
			if root, err = dom.GetDocument().Do(ctx); err != nil {
				return err
			}
			if found, err = dom.QuerySelectorAll(root.NodeID, selector).Do(ctx); err == nil {
				if err = use(ctx, found); err == nil {
					return nil
				}
			}
			time.Sleep(100 * time.Millisecond)
		}
		return err
	}))
}

func (b *tab) text(selector string) string {
	b.t.Helper()
	var out string
	b.eval(fmt.Sprintf(`document.querySelector(%q).innerText`, selector), &out)
	return out
}
