package findings

import (
	"crypto/sha256"
	"fmt"
	"math/rand/v2"
	"reflect"
	"runtime"
	"strconv"
	"testing"
	"unsafe"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"tussock/internal/stat/interval"
	"tussock/internal/survey"
	"tussock/internal/words"
)

var whole = cmp.Exporter(func(reflect.Type) bool { return true })

// TestKept: what is unpacked is what was packed, bit by bit, of seasons as they come and of some that are odd.
func TestKept(t *testing.T) {
	for _, d := range drawn(400) {
		var opt Options
		if len(d.Nests) > 2 {
			opt.Waiting = d.Nests[:len(d.Nests)%2]
		}
		r := Compute(d, opt)
		data, err := r.Pack()
		if err != nil {
			t.Fatal(err)
		}
		again, err := Unpack(data)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(r, again, whole, cmpopts.EquateNaNs()); diff != "" {
			t.Fatalf("kept, results of %+v differ (−computed +kept):\n%s", d, diff)
		}
		for y := 2024; y < 2026; y++ {
			if a, b := fmt.Sprint(r.TalkOver("Ash", y, CommonMarks)), fmt.Sprint(again.TalkOver("Ash", y, CommonMarks)); a != b {
				t.Fatalf("to talk over: %s and kept %s", a, b)
			}
		}
	}
}

// TestKeptWhole: whatever a result has is kept. It fails where a field is added that is in no JSON; name it in kept.go then.
func TestKeptWhole(t *testing.T) {
	var r Result
	n := 0
	fill(reflect.ValueOf(&r).Elem(), &n)
	data, err := r.Pack()
	if err != nil {
		t.Fatal(err)
	}
	again, err := Unpack(data)
	if err != nil {
		t.Fatal(err)
	}
	r.compare() // is made from the rows again
	for i := range r.Predators {
		r.Predators[i].Shown = nil // MixOf makes it
	}
	if diff := cmp.Diff(&r, again, whole, cmpopts.EquateNaNs()); diff != "" || n < 60 {
		t.Errorf("of %d values these are not kept (−packed +unpacked):\n%s", n, diff)
	}
}

// fill gives everything in v a value of its own.
func fill(v reflect.Value, n *int) {
	*n++
	switch v.Interface().(type) {
	case words.Phrase:
		v.Set(reflect.ValueOf(words.LaterCount("%d of %s and %v", "many", *n, *n, "x", []words.Phrase{words.Later("%g", 0.5)})))
		return
	case interval.Spread:
		v.Set(reflect.ValueOf(interval.LogLog(1/(1+float64(*n)), 0.1, float64(*n))))
		return
	}
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			f := v.Field(i)
			fill(reflect.NewAt(f.Type(), unsafe.Pointer(f.UnsafeAddr())).Elem(), n)
		}
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		fill(v.Elem(), n)
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 2, 2))
		fill(v.Index(0), n)
		fill(v.Index(1), n)
	case reflect.Map:
		v.Set(reflect.MakeMap(v.Type()))
		key, value := reflect.New(v.Type().Key()).Elem(), reflect.New(v.Type().Elem()).Elem()
		fill(key, n)
		fill(value, n)
		v.SetMapIndex(key, value)
	case reflect.String:
		v.SetString(strconv.Itoa(*n))
	case reflect.Int, reflect.Int64, reflect.Int32:
		v.SetInt(int64(*n))
	case reflect.Uint64, reflect.Uint32:
		v.SetUint(uint64(*n))
	case reflect.Float64:
		v.SetFloat(1 / float64(*n))
	case reflect.Bool:
		v.SetBool(true)
	default:
		panic("fill: " + v.Type().String())
	}
}

// methods are fingerprints of what Compute makes of drawn seasons, one a version: the last is that of Method.
const methods = "8 47e4cbffbbec5865"

// TestMethod: whoever changes a number or a sentence of the results raises Method, or the old ones stay wherever they are kept.
func TestMethod(t *testing.T) {
	if runtime.GOARCH != "amd64" {
		t.Skip("other processors round otherwise in the last digits")
	}
	h := sha256.New()
	for _, d := range drawn(150) {
		data, err := Compute(d, Options{}).Pack()
		if err != nil {
			t.Fatal(err)
		}
		h.Write(data)
	}
	if got := fmt.Sprintf("%d %.8x", Method, h.Sum(nil)); got != methods {
		t.Errorf("results are %q, and were %q: raise Method by one and write the new fingerprint into the test", got, methods)
	}
}

// TestStandardised: the figure in other shares is that of a computation with them.
func TestStandardised(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 8))
	told := 0
	for _, d := range drawn(300) {
		mix := map[survey.Substrate]float64{"bunchgrass": rng.Float64()}
		if rng.IntN(2) == 0 {
			mix["yucca"] = rng.Float64()
		}
		r, with := Compute(d, Options{}), Compute(d, Options{Mix: mix})
		for y := 2024; y < 2026; y++ {
			got, ok := r.Standardised("Ash", y, mix)
			want, found := with.SurvivalOf("Ash", y)
			switch {
			case ok != (found && want.Day28.Estimate != nil):
				t.Fatalf("told %v; want %+v", ok, want)
			case ok && !(got-*want.Day28.Estimate < 1e-12 && *want.Day28.Estimate-got < 1e-12):
				t.Fatalf("got %v, want %v", got, *want.Day28.Estimate)
			case ok:
				told++
			}
		}
	}
	if told < 100 {
		t.Errorf("%d figures compared", told)
	}
}

// drawn are n surveys of one ranch in two seasons, small and large.
func drawn(n int) (list []*survey.Data) {
	rng := rand.New(rand.NewPCG(5, 1))
	pick := func(n ...int) int { return n[rng.IntN(len(n))] }
	for range n {
		d := &survey.Data{}
		for i := range rng.IntN(pick(4, 60)) {
			n := survey.Nest{Ranch: "Ash", Site: []string{"", "North"}[rng.IntN(2)], Season: 2024 + rng.IntN(2), Number: strconv.Itoa(i),
				Transect: strconv.Itoa(rng.IntN(4)), Substrate: survey.Substrate([]string{"bunchgrass", "yucca", "prickly pear"}[rng.IntN(3)]), SetOn: 700000}
			day := 0
			for range rng.IntN(4) {
				day += pick(0, 1, 13, 14, 15, 28)
				state := survey.States[rng.IntN(len(survey.States))]
				if rng.IntN(3) > 0 {
					state = survey.Intact
				}
				n.Visits = append(n.Visits, survey.Visit{On: n.SetOn + survey.Date(day), State: state})
				if state != survey.Intact {
					break
				}
			}
			n.Remains = &survey.Remains{}
			n.Remains.Bits = []string{"", "halves", "crumbs"}[rng.IntN(3)]
			n.Remains.Ground = []string{"", "rooted", "calm"}[rng.IntN(3)]
			n.Camera = []survey.Predator{"", "", "", "", "raccoon", "a word nobody knows"}[rng.IntN(6)]
			d.Nests = append(d.Nests, n)
		}
		for range rng.IntN(9) {
			d.Belts = append(d.Belts, survey.Belt{Ranch: "Ash", Season: 2025, LengthFt: float64(pick(0, 1, 1000, 1000)), WidthFt: float64(pick(0, 6, 6)),
				Counts: map[survey.Substrate]int{"yucca": pick(0, 1, 50)}})
		}
		list = append(list, d)
	}
	return list
}
