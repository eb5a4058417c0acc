package report

import (
	"regexp"
	"slices"
)

// BlockKind tells what a Block is.
type BlockKind int

// The kinds of blocks.
const (
	Heading BlockKind = iota
	Paragraph
	Verdict // what came out, in a sentence or two
	Caution
	List
	Table
)

// Block is one piece of what another command says: the same words and numbers that
// it prints.
type Block struct {
	Kind BlockKind
	// Text of a heading, paragraph or caution, or a table's caption.
	Text string
	// Items of a list.
	Items []string
	// Header and Rows of a table.
	Header []string
	Rows   [][]string
}

// Section is what one command says.
type Section struct {
	// Name is the section's anchor: letters, digits and hyphens.
	Name   string
	Title  string
	Blocks []Block
}

// rowHeader is the column that names a table's rows: the first that is not of numbers.
func (b Block) rowHeader() int {
	for j := range b.Header {
		if !b.numeric(j) && slices.ContainsFunc(b.Rows, func(row []string) bool { return j < len(row) && row[j] != "" }) {
			return j
		}
	}
	return 0
}

// numeric tells whether a column holds nothing but numbers, with their units and
// signs.
func (b Block) numeric(column int) bool {
	some := false
	for _, row := range b.Rows {
		if column >= len(row) || row[column] == "" {
			continue
		}
		if !numberCell.MatchString(row[column]) {
			return false
		}
		some = true
	}
	return some
}

var numberCell = regexp.MustCompile(`^([<>] )?[+−-]?[0-9.,]+( ?(%|[kMm]?Ω|V|m))?$|^OL$`)

// step is a step of a plan, by its heading: "3. X1 H-L, ohms".
var step = regexp.MustCompile(`^([0-9]+)\. `)

// toStep is where an outcome of a plan leads: "all answer (34 %): step 2".
var toStep = regexp.MustCompile(`^(.*: )step ([0-9]+)$`)

// stepState is the first item of a plan's step: in what state of the supply it is
// taken, how long it takes.
var stepState = regexp.MustCompile(`^supply (on|off)`)

// elsewhere is the outcome of a step that its plan does not follow. On paper it is said
// once for all steps.
const elsewhere = "anything else ("
