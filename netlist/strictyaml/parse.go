package strictyaml

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"unicode/utf8"

	"example.com/ohmloom/netlist/problem"
	"go.yaml.in/yaml/v4"
)

// errTooDeep is what depthLimit stops the library with.
var errTooDeep = errors.New("too deep")

// depthLimit is the library's hook for limits. Aliases need none: they are
// never followed.
type depthLimit struct{ exceeded bool }

func (l *depthLimit) CheckDepth(depth int, _ *yaml.DepthContext) error {
	if depth > MaxDepth {
		l.exceeded = true
		return errTooDeep
	}
	return nil
}

func (l *depthLimit) CheckAlias(_, _ int) error { return nil }

// parse returns the root node of the only document in data.
func parse(data []byte) (*yaml.Node, problem.List) {
	if p, ok := scan(data); !ok {
		return nil, problem.List{p}
	}
	limit := new(depthLimit)
	loader, err := yaml.NewLoader(bytes.NewReader(data), yaml.WithPlugin(limit))
	if err != nil {
		// Only wrong options fail here, and ours are fixed.
		panic("strictyaml: " + err.Error())
	}
	document, err := load(loader)
	if err == nil {
		var second *yaml.Node
		if second, err = load(loader); err == nil {
			return nil, problem.List{{
				Line: second.Line, Column: second.Column,
				What:  "a second document begins here",
				Write: "one document, without --- and ... lines",
			}}
		}
		if errors.Is(err, io.EOF) {
			err = nil
		}
	}
	switch {
	case errors.Is(err, io.EOF), err == nil && len(document.Content) == 0:
		return nil, problem.List{emptyFile}
	case limit.exceeded:
		p := translate(err, data)
		p.What = fmt.Sprintf("lists and mappings are nested more than %d deep here", MaxDepth)
		p.Write = "fewer levels"
		return nil, problem.List{p}
	case err != nil:
		return nil, problem.List{translate(err, data)}
	}
	root := document.Content[0]
	if root.Kind == yaml.ScalarNode && root.Value == "" && isPlain(root) {
		return nil, problem.List{emptyFile}
	}
	return root, nil
}

var emptyFile = problem.Problem{What: "the file is empty"}

// load returns the next document. The library panics with a request to report
// it should it meet a state that it holds to be impossible; a file must not
// stop the program whatever is in it.
func load(loader *yaml.Loader) (document *yaml.Node, err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("the YAML library failed: %v", r)
		}
	}()
	document = new(yaml.Node)
	return document, loader.Load(document)
}

// A syntaxRule says in own words what a message of the library means. The
// library's text is matched but never shown; a message that a later version
// words differently falls through to a general one.
type syntaxRule struct {
	message   string // begins the library's message
	context   string // is part of the library's context, any when empty
	atContext bool   // whether the context's position is the more helpful one
	what      string // %c is the character at the position, %l the line of the context
	write     string
}

var syntaxRules = []syntaxRule{
	{
		message: "mapping values are not allowed in this context",
		what:    "this colon cannot stand here: the line is indented too far, or a text holds a colon",
		write:   "the key under the first letter of the other keys, or the text in quotes",
	},
	{
		message: "found unexpected end of stream", context: "quoted scalar", atContext: true,
		what:  "this quote is not closed",
		write: "the closing quote",
	},
	{
		message: "found unexpected document indicator", context: "quoted scalar", atContext: true,
		what:  "this quote is not closed",
		write: "the closing quote",
	},
	{
		message: "found unknown escape character",
		what:    `this backslash begins no known escape`,
		write:   `\\ for a backslash, or the text in single quotes`,
	},
	{
		message: "did not find expected hexadecimal number",
		what:    `this escape needs more hexadecimal digits`,
		write:   `\\ for a backslash, or the text in single quotes`,
	},
	{
		message: "found a comment without preceding whitespace",
		what:    "a comment cannot begin right behind a value",
		write:   "a blank before #, or text with # in quotes",
	},
	{
		message: "did not find expected comment or line break",
		what:    "nothing may follow a | or > on its line",
		write:   "the text on the next lines, or in quotes",
	},
	{
		message: "did not find expected <document start>",
		what:    "more follows here after the end of the data",
		write:   "all of it as key: value",
	},
	{
		context: "directive", atContext: true,
		what:  "a line cannot begin with %c",
		write: "a key at the start of the line",
	},
	{
		message: "did not find expected ',' or ']'",
		what:    "a comma or the closing ] is missing before this place; the [ is on line %l",
		write:   "[a, b]",
	},
	{
		message: "did not find expected ',' or '}'",
		what:    "a comma or the closing } is missing before this place; the { is on line %l",
		write:   "{key: value, key: value}, and a text that holds a colon or a comma in quotes",
	},
	{
		message: "did not find expected '-' indicator",
		what:    "this line does not go on with the list above it",
		write:   "- under the - of the other entries, or the key further to the left",
	},
	{
		message: "could not find expected ':'", atContext: true,
		what:  "this key has no colon",
		write: "key: value",
	},
	{
		message: "did not find expected key",
		what:    "a key should begin here: the line is indented unlike the other keys, or more follows after a closed value",
		write:   "the key under the first letter of the other keys",
	},
	{
		message: "block sequence entries are not allowed in this context",
		what:    "a list entry cannot begin here",
		write:   "each - on a line of its own, or [a, b]",
	},
	{
		message: "did not find expected node content",
		what:    "a value is missing before this place",
		write:   "a value, or nothing after the last comma",
	},
	{
		message: "mapping keys are not allowed in this context",
		what:    "a value cannot begin with %c",
		write:   "the value in quotes",
	},
	{
		message: "found character that cannot start any token",
		what:    "a value cannot begin with %c",
		write:   "the value in quotes",
	},
	{
		message: "did not find expected alphabetic or numeric character", atContext: true,
		what:  "a value cannot begin with %c",
		write: "the value in quotes",
	},
	{
		message: "unknown anchor",
		what:    "aliases (*name) are not allowed",
		write:   "the value itself, or text that begins with * in quotes",
	},
	{
		context: "tag", atContext: true,
		what:  "tags (!name) are not allowed",
		write: "the value without it, or text that begins with ! in quotes",
	},
	{
		message: "found undefined tag handle",
		what:    "tags (!name) are not allowed",
		write:   "the value without it, or text that begins with ! in quotes",
	},
}

// translate turns an error of the library into own words.
func translate(err error, data []byte) problem.Problem {
	p := problem.Problem{
		What:  "the file cannot be understood as YAML from here on",
		Write: "lines of the form key: value",
	}
	var load *yaml.LoadError
	if !errors.As(err, &load) {
		return p
	}
	p.Line, p.Column = load.Mark.Line, load.Mark.Column
	if characterAt(data, p.Line, p.Column) == '\t' || strings.Contains(load.Message, "tab character") {
		p.What, p.Write = "a tab cannot indent a line", "blanks"
		return p
	}
	for _, rule := range syntaxRules {
		if !strings.HasPrefix(load.Message, rule.message) || !strings.Contains(load.ContextMsg, rule.context) {
			continue
		}
		if rule.atContext && load.ContextMark.Line > 0 {
			p.Line, p.Column = load.ContextMark.Line, load.ContextMark.Column
		}
		fill := strings.NewReplacer(
			"%c", string(characterAt(data, p.Line, p.Column)),
			"%l", strconv.Itoa(load.ContextMark.Line),
		)
		p.What, p.Write = fill.Replace(rule.what), rule.write
		break
	}
	return p
}

// characterAt returns the character at a position, a blank past the end of the
// line or file.
func characterAt(data []byte, line, column int) rune {
	text := strings.TrimPrefix(string(data), bom)
	for ; line > 1; line-- {
		i := strings.IndexAny(text, "\r\n")
		if i < 0 {
			return ' '
		}
		if strings.HasPrefix(text[i:], "\r\n") {
			i++
		}
		text = text[i+1:]
	}
	for ; column > 1 && text != ""; column-- {
		_, size := utf8.DecodeRuneInString(text)
		text = text[size:]
	}
	r, _ := utf8.DecodeRuneInString(text)
	if text == "" || r == '\n' || r == '\r' {
		return ' '
	}
	return r
}
