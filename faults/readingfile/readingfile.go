// Package readingfile reads the file in which a technician notes what a meter
// showed, and makes it ready for package faults.
package readingfile

import (
	"errors"
	"fmt"
	"strings"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/netfile"
	"example.com/ohmloom/netlist/problem"
	"example.com/ohmloom/netlist/strictyaml"
	"example.com/ohmloom/solve"
)

// File is a readings file as it stands.
type File struct {
	// Title of the readings, for headings.
	Title string `yaml:"readings" rule:"required,text" doc:"title of the readings, for headings"`
	Note  string `yaml:"note" rule:"text" doc:"the complaint, the story, where the data come from"`
	Meter *Meter `yaml:"meter" element:"meter" doc:"the meter's accuracy; left out: a common hand-held one"`
	// Answered says which modules answered a scan tool and which did not.
	Answered []Asked `yaml:"answered" element:"scan" doc:"which modules answered a scan tool, and which did not"`
	Taken    []Entry `yaml:"taken" element:"reading" doc:"the readings, in the order in which they were taken"`
	Repaired *Repair `yaml:"repaired" element:"repair" doc:"what was repaired since, and what was read then"`
}

// Repair is what was done about a fault, and the readings after it.
type Repair struct {
	Part  []string `yaml:"part" shape:"one-or-list" doc:"what was repaired: pairs, wires, connectors, splices, terminators or modules; left out: what the readings point to"`
	Taken []Entry  `yaml:"taken" element:"reading" doc:"the readings after the repair"`
	Note  string   `yaml:"note" rule:"text" doc:"free text"`
}

// Asked is what a scan tool at one connector found.
type Asked struct {
	At  string   `yaml:"at" rule:"required" doc:"connector where the scan tool sat"`
	Yes []string `yaml:"yes" shape:"one-or-list" doc:"modules that answered"`
	No  []string `yaml:"no" shape:"one-or-list" doc:"modules that did not answer"`
}

// Meter is the accuracy that a meter's manual states. Each key left out keeps
// the value of a common hand-held meter.
type Meter struct {
	OhmsPct      *float64 `yaml:"ohms_pct" rule:"min=0,max=50" doc:"error of ohms in percent of the reading"`
	OhmsDigits   *float64 `yaml:"ohms_digits" rule:"min=0,max=1000" doc:"error of ohms in digits"`
	LowRangeOhms float64  `yaml:"low_range_ohms" rule:"above=0,max=1e6" doc:"greatest value of the lowest ohms range"`
	DigitOhms    float64  `yaml:"digit_ohms" rule:"above=0,max=1e3" doc:"last digit of the lowest ohms range"`
	RangeOhms    float64  `yaml:"range_ohms" rule:"above=0,max=1e12" doc:"greatest resistance that it shows; OL above"`
	VoltsPct     *float64 `yaml:"volts_pct" rule:"min=0,max=50" doc:"error of volts in percent of the reading"`
	VoltsDigits  *float64 `yaml:"volts_digits" rule:"min=0,max=1000" doc:"error of volts in digits"`
	DigitVolts   float64  `yaml:"digit_volts" rule:"above=0,max=10" doc:"last digit of the range in which a few volts are read"`
	InputOhms    float64  `yaml:"input_ohms" rule:"above=0,max=1e12" doc:"input resistance in a voltage reading"`
	LeadsZeroed  bool     `yaml:"leads_zeroed" doc:"true where the leads were shorted and their resistance taken off"`
}

// Entry is one reading. Either at and between say where, or from and to.
type Entry struct {
	At        string   `yaml:"at" doc:"connector (X1), half (X3/device, X5/b) or splice where it was taken"`
	Between   string   `yaml:"between" doc:"what the leads touched: H-L, drive.H-ground, L-supply"`
	From      string   `yaml:"from" doc:"point of the red lead: X1.6"`
	To        string   `yaml:"to" doc:"point of the black lead: X4.3, ground"`
	Unplugged []string `yaml:"unplugged" shape:"one-or-list" doc:"connectors that were apart"`
	Ohms      Shown    `yaml:"ohms" doc:"what the meter showed in ohms (supply off), or OL"`
	Volts     Shown    `yaml:"volts" doc:"what the meter showed in volts (modules awake, none sending, unless traffic or sender says otherwise)"`
	Traffic   bool     `yaml:"traffic" doc:"true for volts read with a multimeter while modules send in turn"`
	DutyPct   float64  `yaml:"dominant_pct" rule:"min=1,max=100" doc:"share of time in which the bus is dominant with traffic, in percent; left out: not known"`
	Sender    string   `yaml:"sender" doc:"module (or module/network) that sent dominant while the volts were read, with a scope say"`
	Note      string   `yaml:"note" rule:"text" doc:"free text"`
}

// Shown is what a meter showed: a number, or OL. Empty means not given.
type Shown string

// UnmarshalText takes a number or OL.
func (s *Shown) UnmarshalText(text []byte) error {
	v, err := solve.ParseValue(string(text))
	if err != nil {
		return errors.New("neither a number as a meter shows it (60.4) nor OL")
	}
	if *s = Shown(strings.TrimSpace(string(text))); v.OL {
		*s = "OL"
	}
	return nil
}

// JSONSchema is the schema fragment of what a meter showed.
func (Shown) JSONSchema() map[string]any {
	return map[string]any{"anyOf": []any{
		map[string]any{"type": "number", "minimum": -1e6, "maximum": 1e12},
		map[string]any{"type": "string", "enum": []any{"OL", "ol", "Ol", "oL"}},
	}}
}

func (s Shown) value() solve.Value {
	v, _ := solve.ParseValue(string(s)) // checked by UnmarshalText
	return v
}

// Readings is a readings file made ready for a harness.
type Readings struct {
	Title, Note string
	Instrument  faults.Instrument
	Readings    []faults.Reading
	// Notes are the entries' free texts, one for each reading.
	Notes []string
	// Answers is what modules did when they were asked.
	Answers []faults.Answer
	// Repaired are the parts that were repaired since (none where the file does not
	// say), After what was read then, with its notes.
	Repaired   []string
	After      []faults.Reading
	AfterNotes []string
}

// Read reads a readings file for a harness. The error is a [problem.List] with
// everything that is wrong with it.
func Read(path string, c *netlist.Circuit) (*Readings, error) {
	data, err := netfile.Load(path)
	if err != nil {
		return nil, err
	}
	return Parse(path, data, c)
}

// Parse is [Read] on data that is already there; file is its name for messages.
func Parse(file string, data []byte, c *netlist.Circuit) (*Readings, error) {
	var f File
	positions, problems := strictyaml.Decode(file, data, &f)
	malformed := problems
	problems = nil
	out := &Readings{Title: f.Title, Note: f.Note, Instrument: f.Meter.instrument()}
	for i := range f.Taken {
		e := &f.Taken[i]
		if within(malformed, fmt.Sprintf("taken[%d]", i)) {
			continue // what it lacks is reported already
		}
		r, bad := e.reading(c, fmt.Sprintf("taken[%d]", i), fmt.Sprintf("reading number %d", i+1))
		problems = append(problems, bad...)
		out.Readings = append(out.Readings, r)
		out.Notes = append(out.Notes, e.Note)
	}
	if f.Repaired != nil {
		out.Repaired = f.Repaired.Part
		for i := range f.Repaired.Taken {
			e := &f.Repaired.Taken[i]
			path := fmt.Sprintf("repaired.taken[%d]", i)
			if within(malformed, path) {
				continue
			}
			r, bad := e.reading(c, path, fmt.Sprintf("reading number %d after the repair", i+1))
			if len(bad) == 0 && (r.Probe.Traffic || r.Probe.Sender != "") {
				bad = append(bad, problem.Problem{Path: path, Element: fmt.Sprintf("reading number %d after the repair", i+1), What: "was taken while modules send, which does not judge a repair", Write: "ohms with the supply off, or volts with nobody sending"})
			}
			problems = append(problems, bad...)
			out.After = append(out.After, r)
			out.AfterNotes = append(out.AfterNotes, e.Note)
		}
	}
	answers, bad := f.answers(c, malformed)
	out.Answers = answers
	problems = append(problems, bad...)
	if len(malformed) == 0 && len(f.Taken) == 0 && len(f.Answered) == 0 {
		problems = append(problems, problem.Problem{What: "holds neither readings nor answers", Write: "taken: with a list of readings, or answered:"})
	}
	problems = append(malformed, positions.Locate(problems, file)...)
	if err := problems.Sorted().Err(); err != nil {
		return nil, err
	}
	return out, nil
}

// answers resolves what modules answered against the harness.
func (f *File) answers(c *netlist.Circuit, malformed problem.List) ([]faults.Answer, problem.List) {
	var out []faults.Answer
	var problems problem.List
	all := map[[2]string]bool{}
	for i, a := range f.Answered {
		path := fmt.Sprintf("answered[%d]", i)
		element := fmt.Sprintf("scan number %d", i+1)
		if within(malformed, path) {
			continue
		}
		wrong := func(path, what, write string) {
			problems = append(problems, problem.Problem{Path: path, Element: element, What: what, Write: write})
		}
		s, err := c.FindSite(a.At)
		switch {
		case err != nil:
			wrong(path+".at", err.Error(), "the connector where the scan tool sat")
		case s.Kind != netlist.ConnectorSite:
			wrong(path+".at", a.At+" is no connector that a scan tool plugs into", "the connector where the scan tool sat")
		}
		if len(a.Yes)+len(a.No) == 0 {
			wrong(path, "says of no module whether it answered", "yes: and no: with lists of modules")
		}
		done := map[string]bool{}
		for _, list := range []struct {
			key     string
			modules []string
			yes     bool
		}{{"yes", a.Yes, true}, {"no", a.No, false}} {
			for j, m := range list.modules {
				at := fmt.Sprintf("%s.%s[%d]", path, list.key, j)
				if len(list.modules) == 1 {
					at = path + "." + list.key
				}
				if !c.HasTransceiver(m) {
					_, err := c.Transceiver(m, "")
					wrong(at, err.Error(), "modules of the harness file")
					continue
				}
				if done[m] {
					wrong(at, "module "+m+" stands twice", "each module once")
					continue
				}
				done[m] = true
				if all[[2]string{a.At, m}] {
					wrong(at, "module "+m+" was asked from "+a.At+" in an earlier entry as well", "each module once for each connector, as it stands now")
					continue
				}
				all[[2]string{a.At, m}] = true
				out = append(out, faults.Answer{Tool: a.At, Module: m, Answered: list.yes})
			}
		}
	}
	return out, problems
}

// within tells whether some problem lies at or below a path.
func within(problems problem.List, path string) bool {
	for _, p := range problems {
		if strings.HasPrefix(p.Path, path) {
			return true
		}
	}
	return false
}

func (m *Meter) instrument() faults.Instrument {
	in := faults.DefaultInstrument()
	if m == nil {
		return in
	}
	set := func(to *float64, v float64) {
		if v != 0 {
			*to = v
		}
	}
	setPointer := func(to *float64, v *float64) {
		if v != nil {
			*to = *v
		}
	}
	setPointer(&in.OhmsPct, m.OhmsPct)
	setPointer(&in.OhmsDigits, m.OhmsDigits)
	setPointer(&in.VoltsPct, m.VoltsPct)
	setPointer(&in.VoltsDigits, m.VoltsDigits)
	set(&in.LowRangeOhms, m.LowRangeOhms)
	set(&in.DigitOhms, m.DigitOhms)
	set(&in.DigitVolts, m.DigitVolts)
	set(&in.Meter.RangeOhms, m.RangeOhms)
	set(&in.Meter.InputOhms, m.InputOhms)
	if m.LeadsZeroed {
		in = in.Zeroed()
	}
	return in
}

// reading resolves an entry against the harness.
func (e *Entry) reading(c *netlist.Circuit, path, element string) (faults.Reading, problem.List) {
	var out faults.Reading
	var problems problem.List
	wrong := func(key, what, write string) {
		p := problem.Problem{Path: path, Element: element, What: what, Write: write}
		if key != "" {
			p.Path += "." + key
		}
		problems = append(problems, p)
	}
	condition := solve.Condition{Unplugged: e.Unplugged}
	q := solve.Ohms
	switch {
	case e.Ohms != "" && e.Volts != "":
		wrong("volts", "has both ohms and volts", "two readings, one of each")
	case e.Ohms == "" && e.Volts == "":
		wrong("", "has no value", "ohms: or volts: with what the meter showed")
	case e.Volts != "":
		q, condition.Supply = solve.Volts, solve.Idle
		out.Value = e.Volts.value()
	default:
		out.Value = e.Ohms.value()
	}
	if len(problems) > 0 {
		return out, problems
	}
	if _, err := c.Unplug(e.Unplugged...); err != nil {
		wrong("unplugged", err.Error(), "connectors that something plugs into")
		return out, problems
	}
	var err error
	write := "connectors, splices, cavities and conductors of the harness file"
	key := "at"
	switch {
	case e.At != "" && e.Between != "" && e.From == "" && e.To == "":
		out.Probe, err = faults.ProbeAt(c, q, e.At, e.Between, condition)
	case e.From != "" && e.To != "" && e.At == "" && e.Between == "":
		key = "from"
		out.Probe, err = faults.ProbeFromTo(c, q, e.From, e.To, condition)
	default:
		key, err = "", errors.New("does not say where it was taken")
		write = "at: with between: (at: X1, between: H-L), or from: and to: (from: X1.6, to: ground)"
	}
	if err != nil {
		wrong(key, err.Error(), write)
	}
	switch {
	case e.DutyPct != 0 && !e.Traffic:
		wrong("dominant_pct", "is about traffic, but the reading is not", "traffic: true as well, or leave it out")
	case (e.Traffic || e.Sender != "") && q == solve.Ohms:
		wrong("ohms", "is a resistance, but modules were sending", "volts:, or leave out traffic and sender")
	case e.Traffic && e.Sender != "":
		wrong("sender", "has both traffic and sender", "traffic: true where modules send in turn, sender: where one sends all the time")
	case e.Traffic:
		out.Probe = out.Probe.WithTraffic()
		out.Probe.DominantShare = e.DutyPct / 100
	case e.Sender != "":
		if err := faults.CheckSender(c, e.Sender); err != nil {
			wrong("sender", err.Error(), "a module of the harness file, or module/network")
			break
		}
		out.Probe = out.Probe.WithSender(e.Sender)
	}
	if len(problems) == 0 {
		key := "ohms"
		if q == solve.Volts {
			key = "volts"
		}
		for _, w := range out.Wrong(c) {
			wrong(key, w.What, w.Write)
		}
	}
	return out, problems
}
