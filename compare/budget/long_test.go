package budget

import "os"

// long asks for the full size of the statistical tests.
var long = os.Getenv("SEALWORTHY_LONG") == "1"
