module towpath

go 1.26
