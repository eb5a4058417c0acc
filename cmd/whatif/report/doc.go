// Package report makes one HTML page of a harness: the cautions, what every
// connector reads healthy and with every fault, which modules answer then, what
// readings leave, and what the commands match, next and plan say. The page is one
// file with everything in it. It asks nothing of any server, and its Content
// Security Policy lets it ask nothing.
//
//	page, err := report.Make(circuit, report.Options{Cautions: ...})
//	err = page.Write(w)
//
// Every number in the page was computed by packages faults and solve and is carried
// as the digits that [solve.FormatReading] shows. The scripts in assets choose what to
// show, compare numbers, and weigh which reading to take next.
package report
