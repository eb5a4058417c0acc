// Command session takes readings one by one, as software for the workshop does: after
// each it says what explains all of them so far, and what to read next.
//
//	go run ./examples/session examples/orchard/harness.yaml < examples/session/readings.txt
package main

import (
	"bufio"
	"fmt"
	"log"
	"os"
	"strings"

	"example.com/ohmloom/faults"
	"example.com/ohmloom/faults/caution"
	"example.com/ohmloom/netlist/netfile"
)

func main() {
	if len(os.Args) != 2 {
		log.Fatal("write a harness file, for example examples/orchard/harness.yaml")
	}
	circuit, err := netfile.ReadCircuit(os.Args[1])
	if err != nil {
		log.Fatal(err) // every mistake in the file, with line and column
	}
	matcher := faults.NewMatcher(circuit, faults.Catalogue(circuit), faults.DefaultInstrument())
	fmt.Println(caution.Text()) // before any advice to a person with a meter
	var readings []faults.Reading
	for lines := bufio.NewScanner(os.Stdin); lines.Scan(); {
		// X1 drive.H-drive.L = 119.1
		where, shown, _ := strings.Cut(lines.Text(), "=")
		reading, err := faults.ParseReading(circuit, where, shown)
		if err != nil {
			fmt.Printf("\n%v\n", err) // to be typed again
			continue
		}
		readings = append(readings, reading)
		if err := advise(matcher, readings); err != nil {
			log.Fatal(err)
		}
	}
}

// advise says what readings come to.
func advise(matcher *faults.Matcher, readings []faults.Reading) error {
	match, err := matcher.Match(readings, nil)
	if err != nil {
		return err
	}
	last := readings[len(readings)-1]
	fmt.Printf("\n%d. %s: %s\n", len(readings), last.Probe, last)
	if match.NothingFits() {
		fmt.Println("  nothing explains these readings")
	}
	for _, group := range match.Groups {
		if group.Probability < 0.05 {
			break
		}
		// Of one group no reading so far tells one from the other.
		same := match.Explanations(group)
		fmt.Printf("  %.0f %%  %s", 100*group.Probability, same[0].Name)
		if len(same) > 1 {
			fmt.Printf(", or one of %d like it", len(same)-1)
		}
		fmt.Println()
	}
	for _, part := range match.Parts {
		if part.Probability >= 0.1 {
			fmt.Printf("  repair %s: %.0f %%\n", part.Part, 100*part.Probability)
		}
	}
	// All readings that can be taken, but no scan tool.
	advice, err := matcher.Next(match, &faults.NextOptions{Tools: []string{}})
	if err != nil {
		return err
	}
	if len(advice) == 0 {
		fmt.Println("  no further reading is worth its while")
		return nil
	}
	fmt.Printf("  next: %s (%.1f minutes)\n", &advice[0], advice[0].Minutes)
	return nil
}
