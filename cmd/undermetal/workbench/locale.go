package workbench

import (
	"os"
	"strings"
)

// LocaleWarning says that the locale has no block characters, and what helps; empty where it has. An unset locale counts as UTF-8,
// as tcell takes it.
func LocaleWarning() string {
	for _, name := range []string{"LC_ALL", "LC_CTYPE", "LANG"} {
		value := os.Getenv(name)
		if value == "" {
			continue
		}
		_, charset, _ := strings.Cut(value, ".")
		charset, _, _ = strings.Cut(charset, "@")
		if charset = strings.ToUpper(strings.ReplaceAll(charset, "-", "")); charset == "UTF8" {
			return ""
		}
		return name + "=" + value + " is not UTF-8: set " + name + "=C.UTF-8 for colours and finer blocks"
	}
	return ""
}
