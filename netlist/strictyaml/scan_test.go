package strictyaml

import (
	"strings"
	"testing"
)

func TestSeparates(t *testing.T) {
	tests := []struct {
		r    rune
		next string // each of these, one by one
		want bool
	}{
		{'\n', "a \n", true},
		{',', "a ,", true},
		{'[', "a]", true},
		{'{', "a}", true},
		{'\r', "a \r", true},
		{'\r', "\n", false}, // counts with the line feed
		{':', " \t\n\r,]}", true},
		{':', "a:-[{", false},
		{'-', " \t\n\r", true},
		{'-', "a-,]}", false},
		{'?', " \t\n\r", true},
		{'?', "a,]}", false},
		{']', " ,", false},
		{'}', " ,", false},
		{'a', " ,\n", false},
		{' ', " ,\n", false},
	}
	for _, test := range tests {
		for i := range len(test.next) {
			if got := separates(test.r, test.next[i]); got != test.want {
				t.Errorf("separates(%q, %q) = %v, want %v", test.r, test.next[i], got, test.want)
			}
		}
	}
}

func TestScanLimits(t *testing.T) {
	tests := []struct {
		name string
		in   string
		ok   bool
	}{
		{"as large as may be", strings.Repeat("a", MaxBytes), true},
		{"one byte more", strings.Repeat("a", MaxBytes+1), false},
		{"as many separators as may be", strings.Repeat(",", MaxSeparators), true},
		{"one separator more", strings.Repeat(",", MaxSeparators+1), false},
		{"line ends of two bytes count once", strings.Repeat("\r\n", MaxSeparators), true},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			if p, ok := scan([]byte(test.in)); ok != test.ok {
				t.Errorf("scan = %v, %v, want %v", p, ok, test.ok)
			}
		})
	}
}
