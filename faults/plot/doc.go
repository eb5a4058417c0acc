// Package plot draws readings against what a fault leaves open, as SVG: its ohms
// ([AgainstOhms]) or its place along the trunk ([AgainstPlace]).
//
// Each has the reading as a line, the band in which 95 % of healthy harnesses read
// as a grey area, and where the meter shows OL as a line along the top. A [Plot]
// is plain data: what is drawn can be read from it.
package plot
