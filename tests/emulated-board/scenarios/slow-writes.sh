# slow-writes NAME DISK MILLISECONDS: makes /dev/mapper/NAME, the disk with every write held back for so long (device-mapper `delay`).
sectors=$(cat /sys/block/"$2"/size)
echo "0 $sectors delay /dev/$2 0 0 /dev/$2 0 $3" | dmsetup create --noudevsync --noudevrules "$1" || exit 1
[ -e /dev/mapper/"$1" ] || ln -s ../dm-"$(dmsetup info -c --noheadings -o minor "$1" | tr -d ' ')" /dev/mapper/"$1"
