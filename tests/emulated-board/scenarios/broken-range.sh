# broken-range NAME DISK FIRST COUNT: makes /dev/mapper/NAME, the disk with COUNT sectors from FIRST on which every access fails.
sectors=$(cat /sys/block/"$2"/size)
after=$(($3 + $4))
printf '%s\n' "0 $3 linear /dev/$2 0" "$3 $4 error" "$after $((sectors - after)) linear /dev/$2 $after" |
    dmsetup create --noudevsync --noudevrules "$1" || exit 1
[ -e /dev/mapper/"$1" ] || ln -s ../dm-"$(dmsetup info -c --noheadings -o minor "$1" | tr -d ' ')" /dev/mapper/"$1"
