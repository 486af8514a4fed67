package check

// InStrips returns options with which each sweep is cut into n strips.
func InStrips(o Options, n int) Options {
	o.strips = n
	return o
}
