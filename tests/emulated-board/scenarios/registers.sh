# registers DISK...: what the kernel shows of each card, one DISK/FILE=TEXT a line.
for disk in "$@"; do
    for file in cid csd scr ssr date manfid oemid name hwrev fwrev serial type preferred_erase_size; do
        echo "$disk/$file=$(cat /sys/block/"$disk"/device/$file)" || exit 1
    done
    echo "$disk/size=$(cat /sys/block/"$disk"/size)"
done
