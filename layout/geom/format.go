package geom

import "strconv"

// AppendUm appends a length of so many nm as µm, exactly and without trailing zeros: 1250 is "1.25".
func AppendUm(b []byte, nm int) []byte {
	u := uint64(nm)
	if nm < 0 {
		b, u = append(b, '-'), -u
	}
	b = strconv.AppendUint(b, u/1000, 10)
	if f := u % 1000; f != 0 {
		b = append(b, '.', byte('0'+f/100), byte('0'+f/10%10), byte('0'+f%10))
		for b[len(b)-1] == '0' {
			b = b[:len(b)-1]
		}
	}
	return b
}
