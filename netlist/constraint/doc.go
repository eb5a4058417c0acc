// Package constraint reads from struct tags what a value of the input may be:
// which keys there are, which of them must be given, and within which limits.
//
// The tags are written once, on the types of the harness. The reader of YAML
// files, the check of a harness that was built in Go, and the JSON Schema for
// editors all take their rules from here, so that they cannot disagree.
//
//	type Wire struct {
//		Name    string  `yaml:"name" rule:"required,name" doc:"name of the wire"`
//		LengthM float64 `yaml:"length_m" rule:"required,above=0,max=10000" doc:"length of the conductor"`
//		Note    string  `yaml:"note" rule:"text"`
//	}
//
// # Tags
//
//   - yaml: the key in the file; "-" leaves the field out of everything. Every
//     other exported field needs one. The last part of a key names the unit:
//     length_m is in metres, drop_mv in millivolts.
//   - doc: what the value is, for messages and for the schema. Messages use the
//     text up to the first ". " or "; ".
//   - example: a value, as it would be written in a file, for messages.
//   - element: on a struct, or a list of them, the word for one of them
//     ("wire"), by which messages call it: "wire W7".
//   - shape: "map" writes a list of two-field structs as a YAML mapping from
//     the first field to the second, in order; "one-or-list" writes a list of
//     scalars as one scalar where there is only one.
//   - rule: comma-separated, see below. On a list of scalars the rules hold for
//     each entry, except required, which holds for the list.
//
// # Rules
//
//   - required: the key must be there.
//   - min=0, above=0, max=10: bounds of a number; above is exclusive.
//   - enum=a|b|c: one of these words.
//   - name: a name, see [NamePattern].
//   - text: printable text of at most [MaxText] characters with any number of
//     lines. A string with none of enum, name and text is one line of at most
//     [MaxLine] characters.
//
// No string may be empty and no number may be NaN or infinite.
//
// # Types that read themselves
//
// A field whose type implements encoding.TextUnmarshaler gets the text of the
// file as it stands. The error of UnmarshalText follows the quoted text in
// messages (`tolerance is "5": no number with % behind it`), so that it need not
// repeat it. To be written, such a type needs MarshalText too; to be more than
// any single value in the schema, a method JSONSchema() map[string]any.
//
// # Zero values
//
// In Go the zero value of a field that is not required means that it was not
// given, and no bounds hold for it; a key that stands in a file is always held
// to them. Use a pointer where zero is a value of its own. A required number or
// bool has no such doubt: its zero is a value, if the bounds admit it.
//
// A mistake in the tags themselves is a mistake in the program, and panics.
package constraint
