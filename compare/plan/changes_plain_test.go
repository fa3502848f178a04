package plan

import (
	"slices"
	"strings"
)

// applyChange makes a change to plain values, as simply as can be.
func applyChange(of map[string]any, c Change) {
	steps, _ := splitPath(c.Path)
	switch c.Do {
	case DoAdd:
		made := plainTable(c.Value.(Table))
		if c.Path == "group" {
			list, _ := of["group"].([]any)
			of["group"] = append(list, made)
			return
		}
		if of[c.Path] == nil {
			of[c.Path] = map[string]any{}
		}
		of[c.Path].(map[string]any)[c.Name] = made
	case DoPut:
		of[steps[0].key] = putPlain(of[steps[0].key], steps[1:], plainValue(c.Value))
	case DoDrop:
		if len(steps) == 1 {
			delete(of, steps[0].key)
			return
		}
		dropPlain(of, steps)
	case DoRename:
		renamePlain(of, steps[0].key, steps[1].key, c.Name)
	}
}

func plainTable(t Table) map[string]any {
	out := map[string]any{}
	for _, kv := range t {
		out[kv.Key] = plainValue(kv.Value)
	}
	return out
}

func plainValue(v any) any {
	switch v := v.(type) {
	case Table:
		return plainTable(v)
	case []Table:
		var out []any
		for _, t := range v {
			out = append(out, plainTable(t))
		}
		return out
	case int:
		return int64(v)
	}
	return v
}

func putPlain(in any, steps []step, v any) any {
	if len(steps) == 0 {
		return v
	}
	st := steps[0]
	if list, ok := in.([]any); ok {
		for i, x := range list {
			if m, ok := x.(map[string]any); st.index == i || ok && st.index < 0 && m["name"] == st.key {
				list[i] = putPlain(x, steps[1:], v)
			}
		}
		if st.index == len(list) { // the one behind the last is a new one
			list = append(list, putPlain(nil, steps[1:], v))
		}
		return list
	}
	m, ok := in.(map[string]any)
	if !ok {
		m = map[string]any{}
	}
	m[st.key] = putPlain(m[st.key], steps[1:], v)
	return m
}

// dropPlain takes a value out; an implied table that is empty then is gone, too.
func dropPlain(in map[string]any, steps []step) {
	at := any(in)
	for _, st := range steps[:len(steps)-1] {
		switch x := at.(type) {
		case map[string]any:
			at = x[st.key]
		case []any:
			for i, y := range x {
				if m, ok := y.(map[string]any); st.index == i || ok && st.index < 0 && m["name"] == st.key {
					at = y
				}
			}
		}
	}
	last := steps[len(steps)-1]
	switch x := at.(type) {
	case map[string]any:
		delete(x, last.key)
	case []any:
		kept := slices.DeleteFunc(slices.Clone(x), func(y any) bool {
			m, ok := y.(map[string]any)
			return ok && last.index < 0 && m["name"] == last.key
		})
		if last.index >= 0 {
			kept = slices.Delete(slices.Clone(x), last.index, last.index+1)
		}
		putPlain(in, steps[:len(steps)-1], kept)
	}
}

func renamePlain(of map[string]any, kind, old, name string) {
	if kind == "group" {
		for _, g := range groupsOf(of) {
			if g["name"] == old {
				g["name"] = name
			}
		}
		return
	}
	if name == old {
		return
	}
	m := of[kind].(map[string]any)
	m[name] = m[old]
	delete(m, old)
	for _, where := range saidIn[kind] {
		keys := strings.Split(where, ".")
		resayPlain(of[keys[0]], keys, old, name)
	}
}

func resayPlain(in any, keys []string, old, name string) {
	switch x := in.(type) {
	case map[string]any:
		if len(keys) == 1 {
			for _, y := range x {
				resayPlain(y, append([]string{"each"}, keys...), old, name)
			}
			return
		}
		if keys[0] != "each" && keys[0] != "group" { // the tables of a kind, by name
			for _, y := range x {
				resayPlain(y, append([]string{"each"}, keys[1:]...), old, name)
			}
			return
		}
		v := x[keys[1]]
		if len(keys) > 2 {
			resayPlain(v, append([]string{"group"}, keys[2:]...), old, name)
			return
		}
		switch v := v.(type) {
		case string:
			if v == old {
				x[keys[1]] = name
			}
		case []any:
			for i := range v {
				if v[i] == old {
					v[i] = name
				}
			}
		}
	case []any:
		for _, y := range x {
			resayPlain(y, append([]string{"each"}, keys[1:]...), old, name)
		}
	}
}
