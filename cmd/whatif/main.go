// Command whatif reads a harness file and tells what a meter would read at every
// connector for every fault, and what faults readings point to.
package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"runtime"
	"slices"
	"strconv"
	"time"

	"github.com/alecthomas/kong"

	"example.com/ohmloom/netlist"
	"example.com/ohmloom/netlist/netfile"
)

// Exit statuses.
const (
	exitFine     = 0
	exitFindings = 1
	exitBadInput = 2
)

// commandLine is the command line; kong reads its tags.
type commandLine struct {
	Check    checkCommand    `cmd:"" help:"Check a harness file: what is wrong, what was assumed, what a healthy harness reads."`
	Table    tableCommand    `cmd:"" help:"Print what a meter reads at every connector for every fault."`
	Talk     talkCommand     `cmd:"" help:"Print who hears whom while modules send, healthy or with faults."`
	Explain  explainCommand  `cmd:"" help:"Derive one reading from the harness as on paper, healthy or with faults."`
	Match    matchCommand    `cmd:"" help:"Rank the faults that explain a file of readings."`
	Next     nextCommand     `cmd:"" help:"Advise what to measure next, by what it says for each minute it takes."`
	Repaired repairedCommand `cmd:"" help:"Say what must be read after a repair, and whether it is."`
	Plan     planCommand     `cmd:"" help:"Print a whole course of readings in advance, down to the part, with minutes."`
	Layout   layoutCommand   `cmd:"" help:"Say how testable a layout is, and which further test point would help most."`
	Report   reportCommand   `cmd:"" help:"Write one HTML page of a harness, to learn from and to work from, without any network."`
	Picture  pictureCommand  `cmd:"" help:"Draw the harness as SVG, plain or with a file of readings."`
	Curve    curveCommand    `cmd:"" help:"Draw a reading against a fault's ohms or its place, as SVG."`
}

// streams is where a command writes.
type streams struct {
	out, err io.Writer
	// terminal says that err is one, so that progress may be shown.
	terminal bool
}

// ballast keeps the garbage collector away from what is small: it is never touched and so
// takes no memory, but counts as in use, so that collecting begins at twice as much. One
// match allocates less, and would be collected half a dozen times.
var ballast = make([]byte, 32<<20)

func main() {
	defer runtime.KeepAlive(ballast)
	info, err := os.Stderr.Stat()
	terminal := err == nil && info.Mode()&os.ModeCharDevice != 0
	os.Exit(run(os.Args[1:], streams{os.Stdout, os.Stderr, terminal}))
}

// exitNow carries kong's wish to exit (after --help) out of the parser.
type exitNow int

func run(args []string, s streams) (status int) {
	defer func() {
		if p := recover(); p != nil {
			code, wished := p.(exitNow)
			if !wished {
				panic(p)
			}
			status = int(code)
		}
	}()
	var line commandLine
	parser, err := kong.New(&line,
		kong.Name("whatif"),
		kong.Description("Computes what a meter reads on a two-wire vehicle network, fault by fault, and finds the faults that explain real readings.\n\n"+cautionText+"\n\nExit status: 0 nothing found, 1 something found, 2 bad input."),
		kong.Writers(s.out, s.err),
		kong.Exit(func(code int) { panic(exitNow(code)) }),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true}),
	)
	if err != nil {
		fmt.Fprintln(s.err, "whatif:", err)
		return exitBadInput
	}
	command, err := parser.Parse(args)
	if err != nil {
		of := "whatif"
		if len(args) > 0 && slices.Contains([]string{"check", "table", "talk", "explain", "match", "next", "repaired", "plan", "layout", "picture", "curve", "report"}, args[0]) {
			of += " " + args[0]
		}
		fmt.Fprintf(s.err, "whatif: %v; %s --help shows how to write it\n", err, of)
		return exitBadInput
	}
	found := exitFine
	if err := command.Run(s, &found); err != nil {
		fmt.Fprintln(s.err, err)
		return exitBadInput
	}
	return found
}

// loadHarness reads a harness file and derives its circuit.
func loadHarness(path string) (*netlist.Circuit, error) { return netfile.ReadCircuit(path) }

// write sends rendered output on its way; a reader that has gone away (a closed
// pipe) is no error of ours.
func write(w io.Writer, text string) error {
	_, err := io.WriteString(w, text)
	if err != nil && !errors.Is(err, os.ErrClosed) {
		return fmt.Errorf("whatif: cannot write the output: %w", err)
	}
	return nil
}

// writeJSON writes a value as indented JSON.
func writeJSON(s streams, v any) error {
	text, err := json.MarshalIndent(v, "", " ")
	if err != nil {
		return fmt.Errorf("whatif: %w", err)
	}
	return write(s.out, string(text)+"\n")
}

// rounded keeps four figures, which is more than any of these numbers is worth.
func rounded(x float64) float64 {
	y, _ := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 4, 64), 64) // what it wrote itself
	return y
}

// progress shows how far work has come, on a terminal, once it takes longer than
// a second.
func progress(s streams, what string) (step func(done, of int), end func()) {
	if !s.terminal {
		return nil, func() {}
	}
	start, last, shown := time.Now(), time.Time{}, false
	step = func(done, of int) {
		now := time.Now()
		if now.Sub(start) < time.Second || now.Sub(last) < 100*time.Millisecond {
			return
		}
		last, shown = now, true
		fmt.Fprintf(s.err, "\r%s: %d of %d", what, done, of)
	}
	end = func() {
		if shown {
			fmt.Fprint(s.err, "\r\033[K")
		}
	}
	return step, end
}
