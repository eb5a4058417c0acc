package faults

import (
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestWhatIsLevelKeepsItsOrder(t *testing.T) {
	type x struct {
		Name  string
		Value float64
	}
	list := []x{{"a", 0.2}, {"b", 0.25}, {"c", 0.25 * (1 + 1e-12)}, {"d", 0}, {"e", 0.25 * (1 - 1e-9)}, {"f", 0.2001}, {"g", 0}}
	sortSteadily(list, func(v *x) float64 { return v.Value })
	var got []string
	for _, v := range list {
		got = append(got, v.Name)
	}
	if diff := cmp.Diff([]string{"b", "c", "e", "f", "a", "d", "g"}, got); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
}
