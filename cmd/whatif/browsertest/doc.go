// Package browsertest drives the pages of whatif report in a real browser. It is a
// module of its own, so that what it needs is not inherited by those who import the
// library.
package browsertest
