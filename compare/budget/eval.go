package budget

// eval is the function of the propagation: all outputs of a side from deviations,
// and the places of its feed tree where out is long enough.
func (s *side) eval(dev, out []float64) error {
	for _, t := range s.settings {
		if err := t.readInto(s, dev, out); err != nil {
			return err
		}
	}
	for i := range s.rises {
		s.rises[i].into(out)
	}
	for i := range s.means {
		s.means[i].into(s, dev, out)
	}
	for i := range s.blends {
		s.blends[i].into(s, dev, out)
	}
	s.readPlaces(out)
	return nil
}

// evalPart is eval for a part; what it is made of beside the part stays as out has it.
func (s *side) evalPart(r *reach, dev, out []float64) error {
	for _, k := range r.settings {
		if err := s.settings[k].readInto(s, dev, out); err != nil {
			return err
		}
	}
	s.compose(r, dev, out)
	return nil
}

// compose makes what is made of the currents that were read.
func (s *side) compose(r *reach, dev, out []float64) {
	for _, i := range r.rises {
		s.rises[i].into(out)
	}
	for _, i := range r.means {
		s.means[i].into(s, dev, out)
	}
	for _, i := range r.blends {
		s.blends[i].into(s, dev, out)
	}
}

// readInto solves a setting and reads its currents.
func (t *setting) readInto(s *side, dev, out []float64) error {
	if err := t.solve(s, dev); err != nil {
		return err
	}
	t.read(out)
	return nil
}

// read reads the currents of a setting.
func (t *setting) read(out []float64) {
	for _, r := range t.reads {
		if r.group >= 0 {
			out[r.out] = t.w.GroupAmps(t.w.Point, r.group)
			continue
		}
		out[r.out] = t.w.JackAmps(t.w.Point)
	}
}
