package report

import (
	"regexp"
	"strings"
)

// plainWord is what a shell takes as one word and as no option.
var plainWord = regexp.MustCompile(`^[\pL\pN_./][\pL\pN_./+:@%=-]*$`)

// shellWord writes a file's name so that a shell takes it as one word: in single quotes
// where it must.
func shellWord(text string) string {
	if plainWord.MatchString(text) {
		return text
	}
	if strings.HasPrefix(text, "-") {
		text = "./" + text
	}
	return "'" + strings.ReplaceAll(text, "'", `'\''`) + "'"
}
