# unmap NAME: takes /dev/mapper/NAME away; the card below it stays.
rm -f /dev/mapper/"$1"
dmsetup --noudevsync --noudevrules remove "$1"
