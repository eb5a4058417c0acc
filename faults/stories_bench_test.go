package faults_test

import (
	"path/filepath"
	"testing"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/faults/readingfile"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/netfile"
)

// The stories of the demo: a match with all pairs of faults, and the advice on what
// to read next, from a cold start (catalogue and ports made anew) and of a matcher
// that has matched before.
func BenchmarkStory(b *testing.B) {
	const demo = "../examples/orchard"
	for _, story := range []string{"first-reading", "no-crank", "wet-basket", "silent-side", "silent-side-answers", "two-faults"} {
		h, err := netfile.Read(filepath.Join(demo, "harness.yaml"))
		if err != nil {
			b.Fatal(err)
		}
		c, err := netlist.NewCircuit(h)
		if err != nil {
			b.Fatal(err)
		}
		r, err := readingfile.Read(filepath.Join(demo, story+".yaml"), c)
		if err != nil {
			b.Fatal(err)
		}
		match := func(b *testing.B, x *faults.Matcher) *faults.Match {
			m, err := x.Match(r.Readings, &faults.MatchOptions{Answers: r.Answers})
			if err != nil {
				b.Fatal(err)
			}
			return m
		}
		fresh := func() *faults.Matcher { return faults.NewMatcher(c, faults.Catalogue(c), r.Instrument) }
		warm := fresh()
		m := match(b, warm)
		b.Run(story+"/match=cold", func(b *testing.B) {
			for b.Loop() {
				match(b, fresh())
			}
		})
		b.Run(story+"/match=warm", func(b *testing.B) {
			for b.Loop() {
				match(b, warm)
			}
		})
		b.Run(story+"/next", func(b *testing.B) {
			for b.Loop() {
				if _, err := warm.Next(m, nil); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
