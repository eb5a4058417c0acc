package strictyaml_test

import (
	"fmt"
	"strings"
	"testing"

	"example.com/ohmloom/netlist/strictyaml"
)

// TestHostile feeds what is meant to take all time or memory. Each must end in
// a few problems that say why; one that does not end fails by the timeout of
// the test run.
func TestHostile(t *testing.T) {
	const mega = 1 << 20
	fill := func(unit string, bytes int) string { return strings.Repeat(unit, bytes/len(unit)) }
	var blocks, bomb, keys, doubled strings.Builder
	for i := range 2800 { // 3.9 MB of indentation
		blocks.WriteString(strings.Repeat(" ", i) + "a:\n")
	}
	bomb.WriteString("a0: &a0 [x, x, x, x, x, x, x, x, x]\n")
	for i := 1; i < 30; i++ {
		fmt.Fprintf(&bomb, "a%d: &a%d [%s]\n", i, i, strings.TrimSuffix(strings.Repeat(fmt.Sprintf("*a%d, ", i-1), 9), ", "))
	}
	for i := range 1_000_000 {
		fmt.Fprintf(&keys, "%x,", i%4096) // so that they fit in 4 MiB
	}
	doubled.WriteString("rig: r\nframe: {")
	for i := range 200_000 {
		fmt.Fprintf(&doubled, "k%d: ,", i%100_000)
	}
	doubled.WriteString("}")

	const (
		tooLarge = "is larger than 4194304 bytes (4 MiB)"
		tooDeep  = "nested more than 64 deep"
		tooMany  = "more than 500000 separate values"
	)
	tests := []struct {
		name string
		in   string
		want string
	}{
		{"100 MB of text", fill("rig: r\n", 100*mega), tooLarge},
		{"one byte too large", "rig: r\n#" + fill("#", 4*mega-7), tooLarge},
		{"as large as may be", "#" + fill("#", 4*mega-8) + "\nrig: ~", "rig is ~"},
		{"open brackets, 4 MiB", fill("[", 4*mega), tooMany},
		{"open brackets", fill("[", mega/4), tooDeep},
		{"open braces, 4 MiB", fill("{a: ", 4*mega), tooMany},
		{"open braces", fill("{a: ", mega/2), tooDeep},
		{"brackets in brackets", fill("[{a: ", mega/2), tooDeep},
		{"list signs, 4 MiB", fill("- ", 4*mega), tooMany},
		{"list signs", fill("- ", mega/2), tooDeep},
		{"explicit keys", fill("? ", mega/2), tooDeep},
		{"deep blocks", blocks.String(), tooDeep},
		{"brackets closed at once", "labels: [" + fill("[],", 4*mega-10), tooMany},
		{"commas", "rig: [" + fill("a,", 4*mega-10), tooMany},
		{"commas alone", fill(",", 4*mega), tooMany},
		{"line breaks", fill("\n", 4*mega), tooMany},
		{"carriage returns", fill("\r", 4*mega), tooMany},
		{"empty entries", fill("-\n", 4*mega), tooMany},
		{"single pairs", "rig: [" + fill("a:,", 4*mega-10), tooMany},
		{"million keys", "{" + keys.String() + "}", tooMany},
		{"very many keys, doubled", doubled.String(), "unknown key"},
		{"alias bomb", bomb.String(), "unknown key"},
		{"alias of what is around it", "rig: r\nlabels: &a [*a]\n", "has an anchor"},
		{"very long key", "rig: r\n" + fill("k", 1000) + ": 1\n", "unknown key"},
		{"very long name", "rig: r\nparts: [{name: " + fill("k", 4*mega-100) + ", length_m: 1, ends: a}]", "must have at most 64"},
		{"very long number", "rig: r\ntemperature_c: " + fill("9", 4*mega-100), "too large for a number"},
		{"very long fraction", "rig: r\ntemperature_c: 999." + fill("9", 4*mega-100), "is 1000, must be at least"},
		{"huge number", "rig: r\ntemperature_c: 1e308", "is 1e308, must be at least"},
		{"not a number", "rig: r\nloads_v: [.nan]", "is not a number"},
		{"quote that never ends", "rig: \"" + fill("a", 4*mega-10), "this quote is not closed"},
		{"quote over many lines", "rig: \"" + fill("a\n", mega/2), "this quote is not closed"},
		{"block of text", "rig: |\n" + fill("  a\n", mega), "must have at most 2000"},
		{"comments", fill("# a\n", mega), "the file is empty"},
		{"tags", "rig: " + fill("!a", mega), "tags (!name) are not allowed"},
		{"backslashes", "rig: \"" + fill(`\"`, 4*mega-10), "this quote is not closed"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			var r rig
			_, problems := strictyaml.Decode("f", []byte(test.in), &r)
			if len(problems) == 0 || len(problems) > 101 {
				t.Fatalf("%d problems, want a few", len(problems))
			}
			if got := problems[0].String(); !strings.Contains(got, test.want) || len(got) > 2000 {
				t.Errorf("got %.2000s, want %s", got, test.want)
			}
		})
	}
}
