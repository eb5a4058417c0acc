package report

import (
	"bytes"
	"compress/flate"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"

	"example.com/ohmloom/faults"
)

// MarshalJSON writes a cell as [value, least, greatest, mark, fault, step, step ...]:
// the first fault, then how far it is to the next. Most neighbours in the catalogue
// read alike, so that the steps are short.
func (c cell) MarshalJSON() ([]byte, error) {
	out := []any{c.Value, c.May[0], c.May[1], int(c.Mark)}
	last := 0
	for _, k := range c.Faults {
		out = append(out, k-last)
		last = k
	}
	return json.Marshal(out)
}

// UnmarshalJSON reads what MarshalJSON writes.
func (c *cell) UnmarshalJSON(data []byte) error {
	var list []number
	if err := json.Unmarshal(data, &list); err != nil {
		return err
	}
	if len(list) < 5 {
		return errors.New("report: a cell has a value, two limits, a mark and a fault at least")
	}
	*c = cell{Value: list[0], May: [2]number{list[1], list[2]}, Mark: faults.Mark(list[3].value)}
	at := 0
	for _, step := range list[4:] {
		at += int(step.value)
		c.Faults = append(c.Faults, at)
	}
	return nil
}

// pack writes a value as compressed JSON in base64. Derivations repeat themselves a
// great deal, so that this is a tenth of their size.
func pack(v any) (string, error) {
	text, err := json.Marshal(v)
	if err != nil {
		return "", fmt.Errorf("report: %w", err)
	}
	var out bytes.Buffer
	w, err := flate.NewWriter(&out, flate.BestCompression)
	if err != nil {
		return "", err
	}
	if _, err := w.Write(text); err != nil {
		return "", err
	}
	if err := w.Close(); err != nil {
		return "", err
	}
	return base64.StdEncoding.EncodeToString(out.Bytes()), nil
}
