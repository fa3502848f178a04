package rig

func newPseudo() (*pseudo, error) { return nil, errNoPseudo }
