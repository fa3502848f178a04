package session

import (
	"reflect"
	"strings"
)

// Full gives a value as it is printed: a list or map of which there is none is an empty
// one, never null. What it was made of stays as it was.
func Full(v any) any {
	if v == nil {
		return nil
	}
	return fullValue(reflect.ValueOf(v)).Interface()
}

func fullValue(v reflect.Value) reflect.Value {
	switch v.Kind() {
	case reflect.Slice:
		if v.Type().Elem().Kind() == reflect.Uint8 {
			return v // bytes are a text
		}
		out := reflect.MakeSlice(v.Type(), v.Len(), v.Len())
		for i := range v.Len() {
			out.Index(i).Set(fullValue(v.Index(i)))
		}
		return out
	case reflect.Array:
		out := reflect.New(v.Type()).Elem()
		for i := range v.Len() {
			out.Index(i).Set(fullValue(v.Index(i)))
		}
		return out
	case reflect.Map:
		out := reflect.MakeMapWithSize(v.Type(), v.Len())
		for it := v.MapRange(); it.Next(); {
			out.SetMapIndex(it.Key(), fullValue(it.Value()))
		}
		return out
	case reflect.Pointer:
		if v.IsNil() {
			return v
		}
		out := reflect.New(v.Type().Elem())
		out.Elem().Set(fullValue(v.Elem()))
		return out
	case reflect.Interface:
		if v.IsNil() {
			return v
		}
		return fullValue(v.Elem())
	case reflect.Struct:
		out := reflect.New(v.Type()).Elem()
		out.Set(v)
		for i := range v.NumField() {
			f := v.Type().Field(i)
			if name, _, _ := strings.Cut(f.Tag.Get("json"), ","); f.IsExported() && name != "-" {
				out.Field(i).Set(fullValue(v.Field(i)))
			}
		}
		return out
	}
	return v
}
