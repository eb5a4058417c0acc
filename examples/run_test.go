// Package examples_test runs the example programs and holds their output against
// what they are meant to teach.
package examples_test

import (
	"flag"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.com/ohmloom/faults/caution"
)

var update = flag.Bool("update", false, "write the lessons' outputs anew")

func TestPrograms(t *testing.T) {
	for _, tt := range []struct {
		name, program, input, want string
	}{
		{
			name: "two terminators read 60, one reads 120, none reads OL", program: "./examples/sixty",
			want: "unplugged []: 60.2 Ω\nunplugged [X2]: 120.4 Ω\nunplugged [X2 X3]: OL\n",
		},
		{
			// Whatever is behind X11 may be lost after the first reading; that nothing
			// comes out of the harness half of X11 leaves the wires that lead there.
			name: "one reading after the other", program: "./examples/session examples/orchard/harness.yaml", input: "session/readings.txt",
			want: caution.Text() + "\n" + session(t),
		},
	} {
		t.Run(tt.name, func(t *testing.T) {
			cmd := exec.Command("go", append([]string{"run"}, strings.Fields(tt.program)...)...)
			cmd.Dir = ".."
			if tt.input != "" {
				input, err := os.Open(tt.input)
				if err != nil {
					t.Fatal(err)
				}
				defer input.Close() // nothing was written
				cmd.Stdin = input
			}
			out, err := cmd.CombinedOutput()
			if err != nil {
				t.Fatalf("%v\n%s", err, out)
			}
			if diff := cmp.Diff(tt.want, string(out)); diff != "" {
				t.Error(diff)
			}
		})
	}
}

// session is what the README shows of examples/session, behind the cautions.
func session(t *testing.T) string {
	readme, err := os.ReadFile("../README.md")
	if err != nil {
		t.Fatal(err)
	}
	_, rest, _ := strings.Cut(string(readme), "```text\nCAUTION. ...\n")
	text, _, ok := strings.Cut(rest, "```")
	if !ok {
		t.Fatal("the README does not show what examples/session prints")
	}
	return text
}

// Every lesson prints what stands beside it in output.txt (-update writes it anew),
// and the README has it in its table. What is right about the numbers, the tests of
// each lesson say.
func TestLessons(t *testing.T) {
	programs, err := filepath.Glob("lessons/*/main.go")
	if err != nil {
		t.Fatal(err)
	}
	if len(programs) < 6 {
		t.Fatalf("found %d lessons", len(programs))
	}
	readme, err := os.ReadFile("../README.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, program := range programs {
		dir := filepath.Dir(program)
		t.Run(filepath.Base(dir), func(t *testing.T) {
			if !strings.Contains(string(readme), "examples/"+filepath.ToSlash(dir)+"/output.txt") {
				t.Error("the README does not list it")
			}
			cmd := exec.Command("go", "run", "./examples/"+dir)
			cmd.Dir = ".."
			out, err := cmd.CombinedOutput()
			if err != nil {
				t.Fatalf("%v\n%s", err, out)
			}
			path := filepath.Join(dir, "output.txt")
			if *update {
				if err := os.WriteFile(path, out, 0o644); err != nil {
					t.Fatal(err)
				}
				return
			}
			want, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(string(want), string(out)); diff != "" {
				t.Error(diff)
			}
		})
	}
}
