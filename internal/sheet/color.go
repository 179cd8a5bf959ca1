package sheet

import (
	"math"
	"strconv"
)

// colorName puts a plain word to a color written as RRGGBB, with or without two digits of opacity or a # before; ""
// for white, "coloured" where it is none.
func colorName(hex string) string {
	if len(hex) > 0 && hex[0] == '#' {
		hex = hex[1:]
	}
	v, err := strconv.ParseUint(hex, 16, 32)
	if err != nil || len(hex) < 6 {
		return "coloured"
	}
	return nameOf(rgb(v))
}

// An rgb is a color as 0xRRGGBB.
type rgb uint32

// nameOf puts a plain word to a color by its hue.
func nameOf(c rgb) string {
	r, g, b := float64(c>>16&255), float64(c>>8&255), float64(c&255)
	most, least := max(r, g, b), min(r, g, b)
	if least > 245 {
		return ""
	}
	if most-least < 24 {
		return "grey"
	}
	switch hue := hueOf(r, g, b, most, most-least); {
	case hue < 15 || hue >= 345:
		if least > 140 {
			return "pink"
		}
		return "red"
	case hue < 46.5:
		if most < 170 {
			return "brown"
		}
		return "orange"
	case hue < 70:
		return "yellow"
	case hue < 170:
		return "green"
	case hue < 260:
		return "blue"
	case hue < 310 || most < 170:
		return "purple"
	}
	return "pink"
}

// hueOf returns the place on the color wheel in degrees: red 0, yellow 60, green 120, blue 240.
func hueOf(r, g, b, most, span float64) float64 {
	switch most {
	case r:
		return math.Mod((g-b)/span*60+360, 360)
	case g:
		return (b-r)/span*60 + 120
	}
	return (r-g)/span*60 + 240
}

// tinted makes a color lighter (tint up to 1) or darker (down to -1), as a workbook's theme does.
func (c rgb) tinted(tint float64) rgb {
	part := func(v rgb) rgb {
		f := float64(v & 255)
		if tint < 0 {
			f *= 1 + max(tint, -1)
		} else {
			f += (255 - f) * min(tint, 1)
		}
		return rgb(f) & 255
	}
	return part(c>>16)<<16 | part(c>>8)<<8 | part(c)
}

// indexed are the colors that workbooks name by number, from 8 on (ECMA-376-1:2016, 18.8.27; cited from memory). The
// eight before repeat the first eight.
var indexed = [56]rgb{
	0x000000, 0xFFFFFF, 0xFF0000, 0x00FF00, 0x0000FF, 0xFFFF00, 0xFF00FF, 0x00FFFF,
	0x800000, 0x008000, 0x000080, 0x808000, 0x800080, 0x008080, 0xC0C0C0, 0x808080,
	0x9999FF, 0x993366, 0xFFFFCC, 0xCCFFFF, 0x660066, 0xFF8080, 0x0066CC, 0xCCCCFF,
	0x000080, 0xFF00FF, 0xFFFF00, 0x00FFFF, 0x800080, 0x800000, 0x008080, 0x0000FF,
	0x00CCFF, 0xCCFFFF, 0xCCFFCC, 0xFFFF99, 0x99CCFF, 0xFF99CC, 0xCC99FF, 0xFFCC99,
	0x3366FF, 0x33CCCC, 0x99CC00, 0xFFCC00, 0xFF9900, 0xFF6600, 0x666699, 0x969696,
	0x003366, 0x339966, 0x003300, 0x333300, 0x993300, 0x993366, 0x333399, 0x333333,
}

// fromPalette returns the name of a color by number; "" where the number means no color.
func fromPalette(palette []rgb, number int) string {
	switch {
	case number >= 0 && number < 8:
		return nameOf(palette[number])
	case number >= 8 && number < 8+len(palette):
		return nameOf(palette[number-8])
	}
	return ""
}

// hexColor reads RRGGBB with or without two digits of opacity before it; white where it is none.
func hexColor(hex string) rgb {
	v, err := strconv.ParseUint(hex, 16, 32)
	if err != nil {
		return 0xFFFFFF
	}
	return rgb(v & 0xFFFFFF)
}
