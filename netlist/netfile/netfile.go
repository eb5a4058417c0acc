// Package netfile reads and writes harnesses as hand-edited YAML files.
//
// Reading is strict. Whatever is wrong with a file, from a misspelt key to a
// conductor that is left floating, is reported in one pass with line and
// column, and nothing is guessed:
//
//	harness.yaml:12:9: wire W7: ends in cavity X3.9, which connector X3 does not have; write one of X3.1, X3.2
//
// The keys, their units and their limits are the tags on the types of package
// netlist; [Schema] has them for editors. Package strictyaml says what of YAML
// is understood, and how large a file may be.
package netfile

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"reflect"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/problem"
	"example.com/ohmloom/netlist/strictyaml"
)

// Read reads the harness in the file at path. The error is a [problem.List],
// whether the file could not be read or is wrong.
func Read(path string) (*netlist.Harness, error) {
	data, err := Load(path)
	if err != nil {
		return nil, err
	}
	return Parse(path, data)
}

// ReadCircuit reads the harness in the file at path and derives its circuit, ready for
// packages solve and faults. The error is a [problem.List], as that of [Read].
func ReadCircuit(path string) (*netlist.Circuit, error) {
	h, err := Read(path)
	if err != nil {
		return nil, err
	}
	return netlist.NewCircuit(h)
}

// Load returns the contents of the file at path, of which it reads no more than
// one byte beyond [strictyaml.MaxBytes]: what is cut there is too large to be
// decoded, and refused. The error is a [problem.List].
func Load(path string) ([]byte, error) {
	data, err := load(path)
	if err != nil {
		return nil, problem.List{{File: path, What: reason(err)}}
	}
	return data, nil
}

var errDirectory = errors.New("is a directory, not a file")

func load(path string) ([]byte, error) {
	// Opening a directory works on some systems and fails on others in
	// ways of their own.
	if info, err := os.Stat(path); err == nil && info.IsDir() {
		return nil, errDirectory
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close() // nothing was written
	return io.ReadAll(io.LimitReader(f, strictyaml.MaxBytes+1))
}

// reason says why a file could not be read.
func reason(err error) string {
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return "there is no such file"
	case errors.Is(err, fs.ErrPermission):
		return "the file may not be read (no permission)"
	}
	var path *fs.PathError
	if errors.As(err, &path) {
		err = path.Err // the path stands before it already
	}
	return err.Error()
}

// Parse reads the harness in data, the contents of the file called file. The
// error is a [problem.List] with everything that is wrong: with the form of the
// file, and with the harness in it as far as the form lets it be known. Problems
// that are mere consequences of others are left out.
func Parse(file string, data []byte) (*netlist.Harness, error) {
	var h netlist.Harness
	positions, problems := strictyaml.Decode(file, data, &h)
	found := netlist.Check(&h)
	if len(problems) > 0 {
		found = newSuspicion(&h, positions, problems).filter(found)
	}
	problems = append(problems, positions.Locate(found, file)...)
	if err := problems.Sorted().Err(); err != nil {
		return nil, err
	}
	return &h, nil
}

// Format writes a harness in the form that [Parse] reads: each part of it on a
// line of its own, in the order of the harness, without what is not given. The
// error is a [problem.List] when the harness breaks the rules of its fields, so
// that it could not be read back. That it can be solved is not asked for: a
// harness may be written before it is complete.
func Format(h *netlist.Harness) ([]byte, error) {
	return strictyaml.Encode(h)
}

// SchemaID names the schema that [Schema] returns.
const SchemaID = "https://example.com/ohmloom/harness.schema.json"

// Schema returns the JSON Schema (draft 2020-12) of harness files, for
// completion and checking in editors. The file harness.schema.json beside this
// package is the same.
func Schema() []byte {
	schema, err := strictyaml.Schema(reflect.TypeFor[netlist.Harness](), SchemaID, "ohmloom harness")
	if err != nil {
		// It depends on nothing but the types of package netlist.
		panic("netfile: " + err.Error())
	}
	return schema
}
