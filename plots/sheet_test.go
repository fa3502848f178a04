package plots_test

import (
	"testing"
)

func TestSheetGolden(t *testing.T) { goldenText(t, "sheet.html", ExampleSheet) }
