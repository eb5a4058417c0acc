// Package svg writes SVG pictures: well-formed, every text escaped, the same
// bytes for the same calls.
//
// A [Writer] keeps count of open elements. A [Label] is a text whose width is
// known without asking a font: it is set into that width by textLength, so what
// does not overlap here does not overlap on a machine with other fonts.
//
// Styles go out as presentation attributes, which any style sheet of a page that
// the picture is put into overrides. There are no scripts, style sheets, fonts or
// links in what it writes.
package svg
