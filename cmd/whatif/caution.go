package main

import "example.com/ohmloom/faults/caution"

// cautions lead everything that a person might act on with a meter in hand;
// cautionText is the same as one paragraph.
var (
	cautions    = caution.Points()
	cautionText = caution.Text()
)
