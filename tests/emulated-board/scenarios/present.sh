# present DISK FILE=TEXT...: lets a card show other register files through the real path; `size=SECTORS` the disk's size.
# `TEXT` holds no white space. Empty text hides nothing: it is a file with an empty line.
disk=$1
shift
mkdir -p /tmp/presented/"$disk"
for entry in "$@"; do
    file=${entry%%=*}
    path=/sys/block/$disk/device/$file
    [ "$file" != size ] || path=/sys/block/$disk/size
    echo "${entry#*=}" > /tmp/presented/"$disk/$file"
    mount --bind /tmp/presented/"$disk/$file" "$path" || exit 1
done
