package strictyaml

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"go.yaml.in/yaml/v4"
)

// A later version of the library may word its errors in another way.
func TestTranslateUnknownError(t *testing.T) {
	const general = "the file cannot be understood as YAML from here on; write lines of the form key: value"
	tests := []struct {
		name string
		err  error
		want string
	}{
		{
			"new wording",
			yaml.NewLoadError(yaml.ScannerStage, "libation refused", yaml.Mark{Line: 2, Column: 3}, nil),
			"2:3: " + general,
		},
		{
			"new wording, wrapped",
			fmt.Errorf("loading: %w", yaml.NewLoadError(yaml.ScannerStage, "libation refused", yaml.Mark{Line: 2, Column: 3}, nil)),
			"2:3: " + general,
		},
		{"without a position", errors.New("libation refused"), general},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			if got := translate(test.err, []byte("a: b\nc: d\n")).String(); got != test.want {
				t.Errorf("got %s, want %s", got, test.want)
			}
		})
	}
}

type panicReader struct{}

func (panicReader) Read([]byte) (int, error) { panic("internal error (please report)") }

func TestLoadSurvivesPanic(t *testing.T) {
	loader, err := yaml.NewLoader(panicReader{})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := load(loader); err == nil || !strings.Contains(err.Error(), "please report") {
		t.Errorf("got %v, want the panic as an error", err)
	}
}

func TestCharacterAt(t *testing.T) {
	const text = "\ufeffaé\r\nb\rc\nd"
	tests := []struct {
		line, column int
		want         rune
	}{
		{1, 1, 'a'}, {1, 2, 'é'}, {1, 3, ' '}, {2, 1, 'b'}, {2, 2, ' '}, {3, 1, 'c'}, {4, 1, 'd'}, {4, 2, ' '}, {5, 1, ' '}, {9, 9, ' '},
	}
	for _, test := range tests {
		if got := characterAt([]byte(text), test.line, test.column); got != test.want {
			t.Errorf("at %d:%d is %q, want %q", test.line, test.column, got, test.want)
		}
	}
}
