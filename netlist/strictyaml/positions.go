package strictyaml

import (
	"slices"
	"strconv"
	"strings"

	"example.com/ohmloom/netlist/problem"
	"go.yaml.in/yaml/v4"
)

// Positions tells where in a file a value stands. The zero value knows nothing.
type Positions struct {
	root *yaml.Node // nil when the file could not be parsed
}

// Lookup returns the 1-based line and column (in characters) of the value at
// path, such as wires[6].to. Where nothing stands at the path, it returns the
// position of the nearest value around it; of an unreadable file, zeros.
func (p Positions) Lookup(path string) (line, column int) {
	if p.root == nil {
		return 0, 0
	}
	n, _ := p.nearest(path)
	return n.Line, n.Column
}

// IsScalar reports whether a single value stands at path, rather than a list, a
// mapping or nothing.
func (p Positions) IsScalar(path string) bool {
	if p.root == nil {
		return false
	}
	n, exact := p.nearest(path)
	return exact && n.Kind == yaml.ScalarNode
}

// nearest returns the node at path, or the nearest one around it.
func (p Positions) nearest(path string) (n *yaml.Node, exact bool) {
	n = p.root
	for path != "" {
		next, rest := step(n, path)
		if next == nil {
			return n, false
		}
		n, path = next, rest
	}
	return n, true
}

// step follows the first part of path from n. It returns nil when there is no
// such value.
func step(n *yaml.Node, path string) (next *yaml.Node, rest string) {
	switch n.Kind {
	case yaml.SequenceNode:
		digits, rest, ok := strings.Cut(strings.TrimPrefix(path, "["), "]")
		i, err := strconv.Atoi(digits)
		if !ok || err != nil || i < 0 || i >= len(n.Content) {
			return nil, ""
		}
		return n.Content[i], rest
	case yaml.MappingNode:
		path = strings.TrimPrefix(path, ".")
		// A key may itself hold a dot, so the longest one that fits is
		// meant. Of a doubled key the first counts, as in decoding.
		best := -1
		for i := 0; i+1 < len(n.Content); i += 2 {
			key := n.Content[i].Value
			rest, ok := strings.CutPrefix(path, key)
			if ok && key != "" && (rest == "" || rest[0] == '.' || rest[0] == '[') &&
				(best < 0 || len(key) > len(n.Content[best].Value)) {
				best = i
			}
		}
		if best >= 0 {
			return n.Content[best+1], path[len(n.Content[best].Value):]
		}
	}
	return nil, ""
}

// Locate returns a copy of list in which every problem that has no line yet
// has the name of the file and the position of its path.
func (p Positions) Locate(list problem.List, file string) problem.List {
	located := slices.Clone(list)
	for i := range located {
		if located[i].Line == 0 {
			located[i].File = file
			located[i].Line, located[i].Column = p.Lookup(located[i].Path)
		}
	}
	return located
}
