//go:build shots

package browsertest

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// shot takes a picture of an element.
func (b *tab) shot(selector string) []byte {
	b.t.Helper()
	var box struct{ X, Y, Width, Height float64 }
	b.eval(fmt.Sprintf(`(() => { const r = document.querySelector(%q).getBoundingClientRect(); return { X: r.x + scrollX, Y: r.y + scrollY, Width: r.width, Height: r.height }; })()`, selector), &box)
	var out []byte
	b.do(chromedp.ActionFunc(func(ctx context.Context) (err error) {
		out, err = cdppage.CaptureScreenshot().WithCaptureBeyondViewport(true).WithClip(&cdppage.Viewport{X: box.X, Y: box.Y, Width: box.Width, Height: box.Height, Scale: 1}).Do(ctx)
		return err
	}))
	return out
}

// Screenshots of the pages, for people to look at; nothing is held against them:
//
//	OHMLOOM_SHOTS=/tmp/shots go test -tags shots -run Shots .
//
// OHMLOOM_SHOTS_OF names other pages than the silent side, as page does.
func TestShots(t *testing.T) {
	dir := os.Getenv("OHMLOOM_SHOTS")
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	save := func(name string, data []byte) {
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	names := strings.Fields(os.Getenv("OHMLOOM_SHOTS_OF"))
	if len(names) == 0 {
		names = []string{silentSide}
	}
	for _, name := range names {
		short := strings.NewReplacer("/", "_", ":", "-", ".yaml", "").Replace(name)
		for _, look := range []struct {
			name          string
			width, height int64
			before        []chromedp.Action
		}{
			{"desktop", 1280, 900, nil},
			{"phone", 360, 740, nil},
			{"dark", 1280, 900, []chromedp.Action{emulation.SetEmulatedMedia().WithFeatures([]*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: "dark"}})}},
			{"grey", 1280, 900, []chromedp.Action{emulation.SetEmulatedVisionDeficiency(emulation.SetEmulatedVisionDeficiencyTypeAchromatopsia)}},
		} {
			b := open(t, name, look.width, look.height, look.before...)
			for _, section := range []string{"header.top", "#found", "#next", "#look", "#typed", "#table", "#healthy", "#plan-1"} {
				var there bool
				b.eval(`!!document.querySelector("`+section+`")`, &there)
				if !there {
					continue
				}
				shot := b.shot(section)
				save(short+"-"+look.name+"-"+strings.Trim(strings.ReplaceAll(section, ".", "-"), "#")+".png", shot)
			}
		}
		b := open(t, name, 1280, 900)
		var pdf []byte
		b.do(chromedp.ActionFunc(func(ctx context.Context) error {
			var err error
			pdf, _, err = cdppage.PrintToPDF().WithPreferCSSPageSize(true).Do(ctx)
			return err
		}))
		save(short+".pdf", pdf)
	}
}
