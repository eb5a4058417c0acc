package report

import (
	"encoding/json"
	"errors"

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
