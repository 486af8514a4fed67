package gds

import (
	"encoding/binary"
	"math"
)

// real8 returns the value of an 8-byte real: a sign bit, an exponent of 16 with excess 64 in 7 bits, and a fraction
// of 56 bits. A fraction with more than 53 significant bits is rounded to the nearest float64; every exponent fits.
func real8(b []byte) float64 {
	u := binary.BigEndian.Uint64(b)
	const fractionBits = 56
	fraction := u & (1<<fractionBits - 1)
	exponent := int(u>>fractionBits&0x7F) - 64
	x := math.Ldexp(float64(fraction), 4*exponent-fractionBits)
	if u>>63 != 0 {
		return -x
	}
	return x
}

// appendReal8 appends x as an 8-byte real, exactly: its 53 bits always fit. Values below 5.4e-79 become 0; values of
// 7.2e75 and more, which no magnification, angle or unit has, are a caller's mistake.
func appendReal8(b []byte, x float64) []byte {
	fraction, exponent := math.Frexp(math.Abs(x)) // |x| = fraction · 2^exponent, ½ ≤ fraction < 1
	sixteens := (exponent + 3) >> 2               // rounded up, so that the fraction of 16^sixteens is below 1
	if fraction == 0 || sixteens < -64 {
		return append(b, 0, 0, 0, 0, 0, 0, 0, 0)
	}
	if !(sixteens <= 63) || math.IsNaN(x) || math.IsInf(x, 0) {
		panic("gds: number beyond the range of an 8-byte real")
	}
	u := uint64(math.Ldexp(fraction, 56-4*sixteens+exponent)) | uint64(sixteens+64)<<56
	if x < 0 {
		u |= 1 << 63
	}
	return binary.BigEndian.AppendUint64(b, u)
}
