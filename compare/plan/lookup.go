package plan

// placeIn is the place of what has a name in a list; -1: it isn't there.
func placeIn[T any](all []T, name string, of func(*T) string) int {
	for i := range all {
		if of(&all[i]) == name {
			return i
		}
	}
	return -1
}

// found is what stands at a place of a list; false: nothing does.
func found[T any](all []T, at int) (x T, ok bool) {
	if at < 0 {
		return x, false
	}
	return all[at], true
}

// JackAt is the place of a jack; -1: the plan doesn't have it.
func (p *Plan) JackAt(name string) int {
	return placeIn(p.Jacks, name, func(x *Jack) string { return x.Name })
}

// JointAt is the place of a joint; -1: the plan doesn't have it.
func (p *Plan) JointAt(name string) int {
	return placeIn(p.Joints, name, func(x *Joint) string { return x.Name })
}

// ReturnAt is the place of a return; -1: the plan doesn't have it.
func (p *Plan) ReturnAt(name string) int {
	return placeIn(p.Returns, name, func(x *Return) string { return x.Name })
}

// ClosureAt is the place of a closure; -1: the plan doesn't have it.
func (p *Plan) ClosureAt(name string) int {
	return placeIn(p.Closures, name, func(x *Closure) string { return x.Name })
}

// BoardAt is the place of a board; -1: the plan doesn't have it.
func (p *Plan) BoardAt(name string) int {
	return placeIn(p.Boards, name, func(x *Board) string { return x.Name })
}

// GroupAt is the place of a group; -1: the plan doesn't have it.
func (p *Plan) GroupAt(name string) int {
	return placeIn(p.Groups, name, func(x *Group) string { return x.Name })
}

// Jack is the jack of a name.
func (p *Plan) Jack(name string) (Jack, bool) { return found(p.Jacks, p.JackAt(name)) }

// Joint is the joint of a name.
func (p *Plan) Joint(name string) (Joint, bool) { return found(p.Joints, p.JointAt(name)) }

// Return is the return of a name.
func (p *Plan) Return(name string) (Return, bool) { return found(p.Returns, p.ReturnAt(name)) }

// Closure is the closure of a name.
func (p *Plan) Closure(name string) (Closure, bool) { return found(p.Closures, p.ClosureAt(name)) }

// Board is the board of a name.
func (p *Plan) Board(name string) (Board, bool) { return found(p.Boards, p.BoardAt(name)) }

// Group is the group of a name.
func (p *Plan) Group(name string) (Group, bool) { return found(p.Groups, p.GroupAt(name)) }

// Pace is the pace of a name.
func (b Board) Pace(name string) (Pace, bool) {
	return found(b.Paces, placeIn(b.Paces, name, func(x *Pace) string { return x.Name }))
}

// JointOf is the joint, or jack, that a group hangs on: its own, or its board's.
func (p *Plan) JointOf(g Group) string {
	if b, ok := p.Board(g.Board); ok {
		return b.Joint
	}
	return g.Joint
}

// ReturnOf is the return that a group's minus ends in, its own or its board's; empty: the
// twin of its plus.
func (p *Plan) ReturnOf(g Group) string {
	if b, ok := p.Board(g.Board); ok && g.Return == "" {
		return b.Return
	}
	return g.Return
}

// UpFrom lists a joint and all that it hangs on, the jack last.
func (p *Plan) UpFrom(joint string) []string {
	var out []string
	for range len(p.Joints) + 1 { // bounded: a joint can't come twice on the way up
		if joint == "" {
			break
		}
		out = append(out, joint)
		j, _ := p.Joint(joint)
		joint = j.From
	}
	return out
}

// BackFrom lists a return and those that it ends in, the jack last.
func (p *Plan) BackFrom(back string) []string {
	var out []string
	for range len(p.Returns) + 1 {
		if back == "" {
			break
		}
		out = append(out, back)
		r, _ := p.Return(back)
		back = r.To
	}
	return out
}

// JackOf is the jack that feeds a joint or a jack itself; empty where there is none.
func (p *Plan) JackOf(joint string) string {
	up := p.UpFrom(joint)
	if len(up) == 0 || p.JackAt(up[len(up)-1]) < 0 {
		return ""
	}
	return up[len(up)-1]
}
