# measure-both TAG TAG IDENTITY PLAN COLLECTOR: two agents with folders of their own measure mmcblk0 and mmcblk1 at the same time,
# overwriting both, and wait for the receipts. Exit codes as in `measure`.
own_disk || exit 1
measure() {
    cardassay-agent measure /dev/"$1" --tag "$2" --erase "$3" --plan /plans/"$4".json --data /mnt/"$1" --plain-text --collector "http://$5" > /dev/told 2>&1
}
measure mmcblk0 "$1" "$3" "$4" "$5" &
first=$!
measure mmcblk1 "$2" "$3" "$4" "$5"
second=$?
wait $first
[ $? -le 1 ] && [ $second -le 1 ]
