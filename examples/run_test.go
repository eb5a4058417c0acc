// Package examples_test runs the example programs and holds their output against
// what they are meant to teach.
package examples_test

import (
	"os/exec"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestPrograms(t *testing.T) {
	for _, tt := range []struct {
		name, program, want string
	}{
		{
			name: "two terminators read 60, one reads 120, none reads OL", program: "./examples/sixty",
			want: "unplugged []: 60.2 Ω\nunplugged [X2]: 120.4 Ω\nunplugged [X2 X3]: OL\n",
		},
		{
			name: "unplugging tells the end of an open trunk", program: "./examples/whichend",
			want: `120.4 ohms at X1:
  X2             25 %
  X4             25 %
  P2             22 %
  P4             22 %
and the same with X2 unplugged:
  X2             50 %
  P2             44 %
  T1              6 %
`,
		},
	} {
		t.Run(tt.name, func(t *testing.T) {
			cmd := exec.Command("go", "run", tt.program)
			cmd.Dir = ".."
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
