package constraint_test

import (
	"fmt"

	"example.com/ohmloom/netlist/constraint"
)

func ExampleValidate() {
	type wire struct {
		Name    string  `yaml:"name" rule:"required,name"`
		LengthM float64 `yaml:"length_m" rule:"required,above=0,max=10000" doc:"the length of the conductor"`
	}
	type harness struct {
		Wires []wire `yaml:"wires" element:"wire"`
	}
	fmt.Println(constraint.Validate(harness{[]wire{{"W1", 1.2}, {"W 2", -3}, {"W3", 0}}}))
	// Output:
	// wire W 2: name is "W 2", but a name has only letters, digits, _ and -, not a blank; write a name such as W_2
	// wire W 2: length_m is -3, must be above 0 and at most 10000 metres; write the length of the conductor in metres, for example length_m: 1.2
	// wire W3: length_m is missing; write the length of the conductor in metres, for example length_m: 1.2
}
