package bench

// IsPseudo is isPseudo for the tests from outside.
var IsPseudo = isPseudo
