package words

import "time"

// Times are told as the clock on the wall of whoever reads them shows them, with the name of its zone; records keep
// UTC. where is that clock's place, nil for UTC.

// Minute is a time to the minute.
func Minute(t time.Time, where *time.Location) string {
	return There(t, where).Format("2006-01-02 15:04 MST")
}

// ToSecond is a time to the second.
func ToSecond(t time.Time, where *time.Location) string {
	return There(t, where).Format("2006-01-02 15:04:05 MST")
}

// Clock is a time of a day that is known.
func Clock(t time.Time, where *time.Location) string { return There(t, where).Format("15:04 MST") }

// ClockSecond is Clock to the second.
func ClockSecond(t time.Time, where *time.Location) string {
	return There(t, where).Format("15:04:05 MST")
}

// Day is the day of a time.
func Day(t time.Time, where *time.Location) string { return There(t, where).Format(time.DateOnly) }

// PaperDay is the day of a time as a page to print says it; "": it isn't known.
func PaperDay(t time.Time, where *time.Location) string {
	if t.IsZero() {
		return ""
	}
	return There(t, where).Format("2 January 2006")
}

// PaperMinute is a time as a page to print says it.
func PaperMinute(t time.Time, where *time.Location) string {
	return There(t, where).Format("2 January 2006, 15:04 MST")
}

// There is a time in the zone of that place.
func There(t time.Time, where *time.Location) time.Time {
	if where == nil {
		where = time.UTC
	}
	return t.In(where)
}
