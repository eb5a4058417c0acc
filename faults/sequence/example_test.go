package sequence_test

import (
	"fmt"
	"strings"

	"example.com/ohmloom/faults/sequence"
)

// An invented machine will not start: the fuse is easy to see and seldom bad, the
// pump has to be reached, and its relay needs the supply on.
func Example() {
	repairs := []string{"fuse", "relay", "pump"}
	p := &sequence.Problem{
		Prior: []float64{1, 4, 3},
		Reach: []float64{15}, SwitchMinutes: 5,
		Tests: []sequence.Test{
			{Name: "look at the fuse", Minutes: 2, Setting: sequence.Unset, Chance: sequence.Certain(0, 1, 1)},
			{Name: "measure the pump", Minutes: 1, Places: []int{0}, Chance: sequence.Certain(0, 0, 1)},
			{Name: "listen to the relay", Minutes: 1, Setting: 1, Chance: sequence.Certain(0, 0, 1)},
		},
	}
	tree, err := sequence.Plan(p, sequence.Greedy(), &sequence.Stop{Sure: 0.95})
	if err != nil {
		fmt.Println(err)
		return
	}
	var show func(n *sequence.Node, indent int)
	show = func(n *sequence.Node, indent int) {
		fmt.Print(strings.Repeat("  ", indent))
		if n.Test < 0 {
			fmt.Printf("%s (%s)\n", repairs[n.Repairs[0].Repair], n.End)
			return
		}
		fmt.Printf("%s, %g min\n", p.Tests[n.Test].Name, n.Minutes)
		for _, next := range n.Outcomes {
			if next != nil {
				show(next, indent+1)
			}
		}
	}
	show(tree.Root, 0)
	fmt.Printf("%.2f minutes expected\n", tree.Minutes)
	// Output:
	// look at the fuse, 2 min
	//   fuse (told apart)
	//   listen to the relay, 6 min
	//     relay (told apart)
	//     pump (told apart)
	// 7.25 minutes expected
}
