package main

import (
	"bytes"
	"flag"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.com/ohmloom/faults/readingfile"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/netfile"
)

var update = flag.Bool("update", false, "write the golden files and the README's outputs anew")

// block is one fenced block of a Markdown file.
type block struct {
	language   string
	text       string
	start, end int // of the text, in the file
}

func blocks(t *testing.T, markdown string) []block {
	t.Helper()
	var out []block
	at := 0
	for {
		open := strings.Index(markdown[at:], "```")
		if open < 0 {
			return out
		}
		open += at
		line := strings.IndexByte(markdown[open:], '\n') + open
		end := strings.Index(markdown[line:], "\n```")
		if end < 0 {
			t.Fatal("a fenced block does not end")
		}
		end += line + 1
		start := line + 1
		out = append(out, block{strings.TrimSpace(markdown[open+3 : line]), markdown[start:end], start, end})
		at = end + 3
	}
}

// arguments parts a command line at its blanks, but not within single quotes.
func arguments(line string) []string {
	var out []string
	for i, piece := range strings.Split(line, "'") {
		if i%2 == 1 {
			out = append(out, piece)
		} else {
			out = append(out, strings.Fields(piece)...)
		}
	}
	return out
}

// fromTop runs the command line as if started in the repository's top folder.
func fromTop(t *testing.T, args ...string) (stdout, stderr string, status int) {
	t.Helper()
	t.Chdir("../..")
	var out, errs bytes.Buffer
	status = run(args, streams{out: &out, err: &errs})
	t.Chdir("cmd/whatif")
	return out.String(), errs.String(), status
}

// Every command of the README prints what the README says, its Go programs are those in
// examples, and its files can be read.
func TestReadme(t *testing.T) {
	const path = "../../README.md"
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	readme := string(data)
	commands, programs, files := 0, 0, 0
	var circuit *netlist.Circuit
	all := blocks(t, readme)
	var renewed strings.Builder
	last := 0
	for _, b := range all {
		want := b.text
		switch {
		case b.language == "console":
			commands++
			first, _, _ := strings.Cut(b.text, "\n")
			line, ok := strings.CutPrefix(first, "$ go run ./cmd/whatif ")
			if !ok {
				t.Fatalf("console block begins with %q", first)
			}
			stdout, _, status := fromTop(t, arguments(line)...)
			if status == exitBadInput {
				t.Errorf("%s: exit status %d", first, status)
			}
			want = first + "\n" + stdout
		case b.language == "go":
			programs++
			// "// Command sixty builds ..." is examples/sixty.
			name := "none"
			if words := strings.Fields(b.text); len(words) > 2 {
				name = words[2]
			}
			program, err := os.ReadFile("../../examples/" + name + "/main.go")
			if err != nil {
				t.Fatal(err)
			}
			want = string(program)
		case b.language == "yaml" && strings.HasPrefix(b.text, "harness:"):
			files++
			h, err := netfile.Parse("README.md", []byte(b.text))
			if err != nil {
				t.Fatal(err)
			}
			if circuit, err = netlist.NewCircuit(h); err != nil {
				t.Fatal(err)
			}
		case b.language == "yaml":
			files++
			if _, err := readingfile.Parse("README.md", []byte(b.text), circuit); err != nil {
				t.Error(err)
			}
		}
		renewed.WriteString(readme[last:b.start] + want)
		last = b.end
		if want != b.text && !*update {
			t.Errorf("README.md: %s block is not what it should be (-update writes it anew):\n%s", b.language, cmp.Diff(b.text, want))
		}
	}
	renewed.WriteString(readme[last:])
	if commands < 2 || programs != 2 || files != 2 {
		t.Errorf("README.md has %d commands, %d Go programs, %d files; some block has lost its language", commands, programs, files)
	}
	if *update {
		if err := os.WriteFile(path, []byte(renewed.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for _, line := range []string{"go run ./cmd/whatif table examples/orchard/harness.yaml\n", "go test ./...\n"} {
		if !strings.Contains(readme, line) {
			t.Errorf("README.md has lost the command %q", line)
		}
	}
}

// Every key that the reader knows stands in the README's table or in its files.
func TestReadmeNamesEveryKey(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	schema := string(netfile.Schema())
	n := 0
	for _, line := range strings.Split(schema, "\n") {
		line = strings.TrimSpace(line)
		key, rest, ok := strings.Cut(strings.TrimPrefix(line, `"`), `": {`)
		if !ok || !strings.HasPrefix(line, `"`) || rest != "" || strings.HasPrefix(key, "$") || key == "properties" || key == "items" || key == "additionalProperties" || key == "propertyNames" || key == "not" {
			continue
		}
		n++
		if !strings.Contains(string(readme), key) {
			t.Errorf("README.md does not mention the key %s", key)
		}
	}
	if n < 40 {
		t.Errorf("only %d keys found in the schema", n)
	}
}

// What the README says of importing a checkout into another program works.
func TestImportFromAnotherModule(t *testing.T) {
	if testing.Short() {
		t.Skip("builds another module")
	}
	top, err := filepath.Abs("../..")
	if err != nil {
		t.Fatal(err)
	}
	program, err := os.ReadFile("../../examples/sixty/main.go")
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "main.go"), program, 0o644); err != nil {
		t.Fatal(err)
	}
	command := func(name string, args ...string) string {
		t.Helper()
		cmd := exec.Command(name, args...)
		cmd.Dir = dir
		// The modules are in the cache already, since these tests were built
		// with them.
		cmd.Env = append(os.Environ(), "GOFLAGS=-mod=mod", "GOWORK=off")
		out, err := cmd.CombinedOutput()
		if err != nil {
			t.Fatalf("%s %s: %v\n%s", name, strings.Join(args, " "), err, out)
		}
		return string(out)
	}
	command("go", "mod", "init", "example.com/elsewhere")
	command("go", "mod", "edit", "-require", "example.com/ohmloom@v0.0.0", "-replace", "example.com/ohmloom="+top)
	command("go", "mod", "tidy")
	if got := command("go", "run", "."); !strings.Contains(got, "unplugged [X2]: 120") {
		t.Errorf("the program printed %q", got)
	}
}
