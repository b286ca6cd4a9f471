# unpresent DISK: the card shows its own register files again.
for file in $(ls /tmp/presented/"$1"); do
    path=/sys/block/$1/device/$file
    [ "$file" != size ] || path=/sys/block/$1/size
    umount "$path" || exit 1
    rm /tmp/presented/"$1/$file"
done
