# keep-one-of-two: writes a file to the board's disk and flushes it, then another one which it does not flush; never ends.
own_disk || exit 1
echo flushed > /mnt/flushed
sync
echo unflushed > /mnt/unflushed
mark written
sleep 600
