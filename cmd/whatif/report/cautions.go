package report

import "slices"

// practice are cautions of the page's own, after those that every command leads with:
// they are for a person who goes to the machine with the page. Common practice, no
// source.
var practice = []string{
	"Before a wheel comes off: the machine on stands, on firm ground, the wheels that stay down chocked. Never work under a jack alone.",
	"Back-probe a plugged connector from the wire side, with a thin probe made for it, along the seal: spread no terminal, pierce no insulation.",
	"Dry a wet connector, and see what made it wet, before you read it: water reads as a leak.",
	"After a repair read again, at the same points. Test brakes and steering at a standstill, then slowly, before anyone drives.",
}

// Cautions are all that the page leads with.
func (p *Page) Cautions() []string { return slices.Concat(p.Options.Cautions, practice) }
