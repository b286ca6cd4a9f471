# false-top NAME DISK KEPT KIND: makes /dev/mapper/NAME from /dev/DISK, honest below sector KEPT and above it of KIND: zero (nothing is
# kept and zeros are read), or flakey (every write is dropped, and what was there before is read).
above=$(($(cat /sys/block/"$2"/size) - $3))
case $4 in
    zero) top="zero" ;;
    flakey) top="flakey /dev/$2 $3 0 1 1 drop_writes" ;;
    *) echo "no such kind: $4"; exit 1 ;;
esac
printf '%s\n' "0 $3 linear /dev/$2 0" "$3 $above $top" | dmsetup create --noudevsync --noudevrules "$1" || exit 1
[ -e /dev/mapper/"$1" ] || ln -s ../dm-"$(dmsetup info -c --noheadings -o minor "$1" | tr -d ' ')" /dev/mapper/"$1"
