; The installer for Windows, for one player and without an administrator.
; makensis -DVERSION=... -DFILES=FOLDER -DICON=FILE -DOUT=FILE windows.nsi
Target amd64-unicode
Name "evenwave ${VERSION}"
OutFile "${OUT}"
RequestExecutionLevel user
InstallDir "$LOCALAPPDATA\Programs\evenwave"
InstallDirRegKey HKCU "Software\evenwave" "Folder"
SetCompressor /SOLID lzma
Icon "${ICON}"
UninstallIcon "${ICON}"
!define ENTRY "Software\Microsoft\Windows\CurrentVersion\Uninstall\evenwave"

Page directory
Page instfiles
UninstPage uninstConfirm
UninstPage instfiles

Section
  SetOutPath "$INSTDIR"
  File "${FILES}\evenwave.exe"
  File "${FILES}\evenwave-window.exe"
  File "${FILES}\licences.txt"
  File "${FILES}\readme.txt"
  WriteUninstaller "$INSTDIR\uninstall.exe"
  CreateShortCut "$SMPROGRAMS\evenwave.lnk" "$INSTDIR\evenwave-window.exe"
  WriteRegStr HKCU "Software\evenwave" "Folder" "$INSTDIR"
  WriteRegStr HKCU "${ENTRY}" "DisplayName" "evenwave"
  WriteRegStr HKCU "${ENTRY}" "DisplayVersion" "${VERSION}"
  WriteRegStr HKCU "${ENTRY}" "DisplayIcon" "$INSTDIR\evenwave-window.exe"
  WriteRegStr HKCU "${ENTRY}" "UninstallString" '"$INSTDIR\uninstall.exe"'
SectionEnd

; Takes and settings are the player's, and stay.
Section "Uninstall"
  Delete "$SMPROGRAMS\evenwave.lnk"
  Delete "$INSTDIR\evenwave.exe"
  Delete "$INSTDIR\evenwave-window.exe"
  Delete "$INSTDIR\licences.txt"
  Delete "$INSTDIR\readme.txt"
  Delete "$INSTDIR\uninstall.exe"
  RMDir "$INSTDIR"
  DeleteRegKey HKCU "${ENTRY}"
  DeleteRegKey HKCU "Software\evenwave"
SectionEnd
