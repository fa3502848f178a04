package main

import (
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"
)

// schemaFor is the JSON schema of a Go type as encoding/json prints it after full: lists
// are never null, what has no omitempty is always there, and there is nothing else.
type schemaFor struct {
	defs map[string]any
	busy map[reflect.Type]string
}

func (s *schemaFor) of(t reflect.Type) map[string]any {
	switch {
	case t == reflect.TypeFor[time.Time]():
		return map[string]any{"type": "string", "format": "date-time"}
	case t.Kind() == reflect.Slice && t.Elem().Kind() == reflect.Uint8:
		return map[string]any{"type": "string"}
	}
	switch t.Kind() {
	case reflect.Bool:
		return map[string]any{"type": "boolean"}
	case reflect.String:
		return map[string]any{"type": "string"}
	case reflect.Float32, reflect.Float64:
		return map[string]any{"type": "number"}
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64, reflect.Uint, reflect.Uint8,
		reflect.Uint16, reflect.Uint32, reflect.Uint64:
		return map[string]any{"type": "integer"}
	case reflect.Slice, reflect.Array:
		return map[string]any{"type": "array", "items": s.of(t.Elem())}
	case reflect.Map:
		return map[string]any{"type": "object", "additionalProperties": s.of(t.Elem())}
	case reflect.Pointer:
		return map[string]any{"anyOf": []any{s.of(t.Elem()), map[string]any{"type": "null"}}}
	case reflect.Struct:
		return s.named(t)
	}
	return map[string]any{}
}

// named puts a struct among the definitions and refers to it.
func (s *schemaFor) named(t reflect.Type) map[string]any {
	name, ok := s.busy[t]
	if !ok {
		name = t.Name()
		for n := 2; s.defs[name] != nil || name == ""; n++ {
			name = fmt.Sprintf("%s%d", t.Name(), n)
		}
		s.busy[t], s.defs[name] = name, true
		properties, required := map[string]any{}, []string{}
		s.fields(t, properties, &required)
		slices.Sort(required)
		s.defs[name] = map[string]any{"type": "object", "properties": properties, "required": required,
			"additionalProperties": false}
	}
	return map[string]any{"$ref": "#/$defs/" + name}
}

func (s *schemaFor) fields(t reflect.Type, properties map[string]any, required *[]string) {
	for i := range t.NumField() {
		f := t.Field(i)
		name, options, _ := strings.Cut(f.Tag.Get("json"), ",")
		inner := f.Type
		if inner.Kind() == reflect.Pointer {
			inner = inner.Elem()
		}
		switch {
		case name == "-":
			continue
		case f.Anonymous && name == "" && inner.Kind() == reflect.Struct:
			s.fields(inner, properties, required)
			continue
		case !f.IsExported():
			continue
		case name == "":
			name = f.Name
		}
		if properties[name] != nil {
			continue // of an embedded struct; the outer one is printed
		}
		x := s.of(f.Type)
		if strings.Contains(options, "omitempty") || strings.Contains(options, "omitzero") {
			if f.Type.Kind() == reflect.Pointer {
				x = s.of(f.Type.Elem())
			}
		} else {
			*required = append(*required, name)
		}
		properties[name] = x
	}
}

func schemaText(t *testing.T, name string, o output) []byte {
	t.Helper()
	s := schemaFor{defs: map[string]any{}, busy: map[reflect.Type]string{}}
	properties, required := map[string]any{}, []string{}
	s.fields(reflect.TypeOf(o.value), properties, &required)
	if properties[formatKey] != nil {
		t.Fatalf("%s has a %q of its own: what it is couldn't stand there", name, formatKey)
	}
	properties[formatKey] = map[string]any{"const": o.format(name)}
	required = append(required, formatKey)
	slices.Sort(required)
	x := map[string]any{"$schema": "https://json-schema.org/draft/2020-12/schema", "$id": o.format(name),
		"type": "object", "properties": properties, "required": required, "additionalProperties": false}
	if len(s.defs) > 0 {
		x["$defs"] = s.defs
	}
	b, err := json.MarshalIndent(x, "", " ")
	if err != nil {
		t.Fatal(err)
	}
	return append(b, '\n')
}
