module undermetal

go 1.26.0
