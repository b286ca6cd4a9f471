# list-disk: the names and contents of the files on the board's disk, after its file system has recovered.
own_disk || exit 1
for file in /mnt/*flushed; do echo "$(basename "$file")=$(cat "$file")"; done
