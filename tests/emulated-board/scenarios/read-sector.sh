# read-sector DEVICE SECTOR: reads one sector past the cache.
dd if="$1" of=/dev/null bs=512 count=1 skip="$2" iflag=direct
