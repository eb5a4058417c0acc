package netfile

import (
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestSplit(t *testing.T) {
	tests := []struct{ path, element, key string }{
		{"", "", ""},
		{"harness", "", ""},
		{"supply.volts", "", ""},
		{"wires", "", ""},
		{"wires[3]", "wires[3]", ""},
		{"wires[3].to", "wires[3]", ".to"},
		{"pairs[3].to[1]", "pairs[3]", ".to"},
		{"connectors[12].cavities.1", "connectors[12]", ".cavities"},
		{"connectors[12].cavities.a.b[", "connectors[12]", ".cavities"},
	}
	for _, test := range tests {
		element, key := split(test.path)
		if element != test.element || key != test.key {
			t.Errorf("split(%q) = %q, %q, want %q, %q", test.path, element, key, test.element, test.key)
		}
	}
}

func TestOnly(t *testing.T) {
	refs := []reference{
		{key: "from", text: []string{"a", "b"}},
		{key: "joins", text: []string{"c", "d"}, derived: true},
		{key: "to", text: []string{"e"}},
	}
	tests := []struct {
		path string
		want []string
	}{
		{".from", []string{"a", "b"}},
		{".from[0]", []string{"a"}},
		{".from[1]", []string{"b"}},
		{".from[2]", []string{"a", "b"}},
		{".from[-1]", []string{"a", "b"}},
		{".from[x]", []string{"a", "b"}},
		{".joins[1]", []string{"c", "d"}},
		{".joins.1", []string{"c", "d"}},
		{".to", []string{"e"}},
		{".fro", nil},
	}
	for _, test := range tests {
		var got []string
		for _, ref := range only(refs, test.path) {
			got = append(got, ref.text...)
		}
		if diff := cmp.Diff(test.want, got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", test.path, diff)
		}
	}
}

func TestHarmless(t *testing.T) {
	tests := []struct {
		element, key string
		want         bool
	}{
		{"wires[3]", ".length_m", true},
		{"pairs[3]", ".awg", true},
		{"connectors[3]", ".note", true},
		{"connectors[3]", ".reach_min", true},
		{"connectors[3]", ".name", false},
		{"connectors[3]", ".cavities", false},
		{"connectors[3]", ".inline", false},
		{"connectors[3]", ".colour", false},
		{"connectors[3]", "", false},
		{"networks[0]", ".layer", false},
		{"colours[0]", ".note", false},
		{"note[0]", ".note", false},
	}
	for _, test := range tests {
		if got := harmless(test.element, test.key); got != test.want {
			t.Errorf("harmless(%q, %q) = %v, want %v", test.element, test.key, got, test.want)
		}
	}
}
