package signature

import "math"

func sd(p float64, n int) float64 { return math.Sqrt(math.Max(p*(1-p), 0.01) / float64(max(1, n))) }

func bell(x float64) float64 { return math.Exp(-x * x / 2) }
