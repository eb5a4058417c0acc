// Package strictyaml reads and writes structs as hand-edited YAML by the tags
// of package constraint, and derives a JSON Schema from the same tags.
//
// The reader reports everything that is wrong in one pass, each problem with
// its line and column, in plain words and with what to write instead:
//
//	harness.yaml:9:5: wire W7: unknown key "lenght_m"; write length_m, in metres (known keys: name, from, to, length_m)
//
// Only a file that is not YAML at all, or is too large, ends at its first
// problem.
//
// # What is accepted
//
// One YAML document that is a mapping; JSON is YAML too. Scalars for strings
// keep their text as written: cavity 010 is "010", 1.10 is "1.10" and no is
// "no". Only null, true and false need quotes, because every editor would take
// them for something else. Numbers are in decimal notation with a point, with
// or without an exponent. A key that is there must have a value that obeys its
// rules, so that zero is no way to say "not given": leave the key out.
//
// Refused are keys that are not known or are doubled, null, anchors, aliases,
// merge keys, tags and several documents; bytes that are not UTF-8; files over
// [MaxBytes] or [MaxSeparators]; nesting deeper than [MaxDepth].
//
// # The schema and the reader
//
// An editor checks values, not their writing: it cannot tell 1.0 from 1 or 0x10
// from 16. The schema therefore lets a string be written as a plain number, as
// the reader does, and never refuses a value that the reader accepts. The
// reader alone refuses
//
//   - a number as a name when the way it is written is no name (+5, 1.0), or as
//     one of some words when it is written in another way (120.0 for 120),
//   - hexadecimal and octal numbers, leading zeros, True and TRUE,
//   - numbers that are too large for their Go type where no maximum is set.
package strictyaml
