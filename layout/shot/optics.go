package shot

// Resolution returns the smallest distance in nm of two points that an objective of numerical aperture na resolves in
// light of a wavelength in nm: Rayleigh's criterion, 3.8317/2π · λ/NA (the first zero of the Airy pattern; M. Born,
// E. Wolf, Principles of Optics), for self-luminous points; illumination and contrast may do a little better or worse.
func Resolution(na, wavelength float64) float64 { return 0.6098 * wavelength / na }

// CoarsestPixel returns the largest pixel in nm on the die that loses nothing of what the objective transmits: half the
// period of its cut-off, 2NA/λ (incoherent light), by the sampling theorem.
func CoarsestPixel(na, wavelength float64) float64 { return wavelength / (4 * na) }
