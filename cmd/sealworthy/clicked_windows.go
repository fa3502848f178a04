package main

import (
	"os"
	"unsafe"

	"golang.org/x/sys/windows"
)

var getConsoleProcessList = windows.NewLazySystemDLL("kernel32.dll").NewProc("GetConsoleProcessList")

// clicked: the program was started by a double click. Its console was made for it alone
// then; one that was typed into belongs to a shell, too.
func clicked(func(string) string, ...*os.File) bool {
	var ids [2]uint32
	n, _, _ := getConsoleProcessList.Call(uintptr(unsafe.Pointer(&ids[0])), uintptr(len(ids)))
	return n == 1
}

// documents is the maker's folder of documents, wherever he moved it.
func documents(func(string) string) (string, error) {
	return windows.KnownFolderPath(windows.FOLDERID_Documents, windows.KF_FLAG_DEFAULT)
}
