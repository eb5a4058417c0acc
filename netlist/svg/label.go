package svg

import "strings"

// Font is what pictures ask for: the widths below belong to the first of these,
// and the others are drawn to the same measure.
const Font = "Helvetica, Arial, 'Liberation Sans', sans-serif"

// advance holds the advance widths of the printable ASCII characters of
// Helvetica, in thousandths of the size: the font metrics file that Adobe
// published for the standard PostScript fonts, from memory. A width that is off
// shows as letters set too close or too far, never as an overlap.
var advance = [...]float64{
	278, 278, 355, 556, 556, 889, 667, 191, 333, 333, 389, 584, 278, 333, 278, 278, // space to /
	556, 556, 556, 556, 556, 556, 556, 556, 556, 556, 278, 278, 584, 584, 584, 556, // 0 to ?
	1015, 667, 667, 722, 722, 667, 611, 778, 722, 278, 500, 667, 556, 833, 722, 778, // @ to O
	667, 778, 722, 667, 611, 722, 667, 944, 667, 667, 611, 278, 278, 278, 469, 556, // P to _
	333, 556, 556, 500, 556, 556, 278, 556, 556, 222, 222, 500, 222, 833, 556, 556, // ` to o
	556, 556, 333, 500, 278, 556, 500, 722, 500, 500, 500, 334, 260, 334, 584, // p to ~
}

// boldFactor is how much wider bold letters are taken to be.
const boldFactor = 1.07

// Width gives the width of a text in a size, in user units. Characters beyond
// ASCII are taken to be 0.72 of the size wide, those of East Asian scripts and
// pictures (U+1100 and up, but for punctuation) a little more than the size.
func Width(text string, size float64, bold bool) float64 {
	sum := 0.0
	for _, r := range text {
		switch {
		case r >= ' ' && r <= '~':
			sum += advance[r-' ']
		case r >= 0x1100 && (r < 0x2000 || r >= 0x2600):
			sum += 1050
		default:
			sum += 720
		}
	}
	if bold {
		sum *= boldFactor
	}
	return sum * size / 1000
}

// Label is one line of text.
type Label struct {
	// X is the left end, Y the top of the line; the line is Height high.
	X, Y float64
	Size float64
	Bold bool
	Text string
	// Turned turns the text a quarter to the left, so that it reads upwards; X
	// and Y are then the left and lower end.
	Turned bool
}

// Height of a line of text in units of its size.
const Height = 1.2

// base is how far below the top of its line a text stands, in units of its size: its
// capitals (0.72 high, from memory) in the middle of the line, a little up for what
// hangs below.
const base = 0.92

// Box gives the space that the label takes: left, top, right, bottom.
func (l Label) Box() (x0, y0, x1, y1 float64) {
	w := Width(l.Text, l.Size, l.Bold)
	if l.Turned {
		return l.X, l.Y - w, l.X + l.Size*Height, l.Y
	}
	return l.X, l.Y, l.X + w, l.Y + l.Size*Height
}

// Label writes a line of text in just the width that Box says.
func (w *Writer) Label(l Label, attributes ...Attr) {
	if strings.TrimSpace(l.Text) == "" {
		return
	}
	all := []Attr{Num("x", l.X), Num("y", l.Y+base*l.Size), Num("font-size", l.Size)}
	if l.Turned {
		all = []Attr{Num("x", 0), Num("y", 0), Num("font-size", l.Size), Str("transform", "translate("+Number(l.X+base*l.Size)+" "+Number(l.Y)+") rotate(-90)")}
	}
	if l.Bold {
		all = append(all, Str("font-weight", "bold"))
	}
	all = append(all, Num("textLength", Width(l.Text, l.Size, l.Bold)), Str("lengthAdjust", "spacingAndGlyphs"))
	w.Text("text", l.Text, append(all, attributes...)...)
}

// Shorten cuts a text that is wider than a width and ends it with an ellipsis, which
// stands alone where nothing else finds room.
func Shorten(text string, size float64, bold bool, most float64) string {
	text = strings.Join(strings.Fields(text), " ")
	if Width(text, size, bold) <= most {
		return text
	}
	runes := []rune(text)
	for n := len(runes) - 1; n > 0; n-- {
		if short := strings.TrimRight(string(runes[:n]), " ") + "…"; Width(short, size, bold) <= most {
			return short
		}
	}
	return "…"
}

// Wrap parts a text into lines of at most a width; a word that is wider than
// that is shortened.
func Wrap(text string, size float64, bold bool, most float64) []string {
	var lines []string
	line := ""
	for _, word := range strings.Fields(text) {
		switch {
		case line != "" && Width(line+" "+word, size, bold) <= most:
			line += " " + word
		default:
			if line != "" {
				lines = append(lines, line)
			}
			line = Shorten(word, size, bold, most)
		}
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}
