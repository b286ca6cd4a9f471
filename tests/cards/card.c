/*
 * A card in user space: one file, served through FUSE without the page cache, to be put below a loop device. It keeps what is written to it, or lies
 * about that in one of the ways cards do, or has faults that no liar has. Everything that happens by itself happens after a number of blocks moved, so
 * that it is the same every time.
 *
 *   card MOUNTPOINT KEY=VALUE...
 *
 *   size=BYTES           what it claims
 *   true=BYTES           what it has, for the lies below
 *   lie=wrap             addresses are taken modulo the true size
 *   lie=drop|ff|old      beyond the true size nothing is kept: 00, FF, or what somebody left there
 *   lie=stale            beyond the true size the first content ever written stays
 *   lie=fold             the top goes into a window of the real part (window=START, windowlen=BYTES)
 *   lie=grow             storage is given out block by block on the first write until the true size is used up
 *   lie=odd              every odd MiB keeps nothing
 *   lie=scatter          part=N in 10,000 blocks keep nothing
 *   lie=top              beyond the true size reading fails
 *   cache=BLOCKS         a cache in front of the lie, which answers for the blocks written last
 *   bad=N                N blocks cannot be read; flip=N blocks come back with one bit changed; refuse=N blocks take no write
 *   refusefrom=BLOCKS    from so many blocks written on, no write is taken
 *   away=OP:AT:MS        nothing is answered for so long, beginning when OP (write, read, flush) has moved AT blocks (flush: calls)
 *   once=OP:AT           the next OP after AT blocks fails once
 *   gone=OP:AT           nothing is ever answered again
 *   slow=US              every call takes so much longer
 *   prepare=MS           the first write of all takes so much longer
 */
#define FUSE_USE_VERSION 31
#define _GNU_SOURCE
#include <errno.h>
#include <fcntl.h>
#include <fuse3/fuse.h>
#include <pthread.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <time.h>
#include <unistd.h>

enum { BLOCK = 4096, KINDS = 3, WRITE = 0, READ = 1, FLUSH = 2, FILE_FROM = 256 << 20 };

static int64_t size_bytes = 64 << 20, true_bytes, window_start, window_bytes = 1 << 20;
static char lie[16] = "", path_name[] = "/card";
static int64_t part, bad, flips, refusals, cache_blocks, slow_us, prepare_ms, refuse_from = -1;
static struct { int64_t at; int64_t ms; int kind; int mode; } event; /* mode: 0 none, 1 away, 2 once, 3 gone */
static int64_t moved[KINDS];
static struct timespec away_since;
static int is_away, was_away;
static uint8_t *store, *cache;
static int32_t *slot_of;     /* block -> slot of the cache + 1 */
static int64_t *block_of, next_slot;
static uint8_t *given;       /* a block has storage, or was written once */
static int64_t given_count;
static pthread_mutex_t gate = PTHREAD_MUTEX_INITIALIZER;

static uint64_t dice(uint64_t value, uint64_t seed)
{
    uint64_t z = value * 0x9E3779B97F4A7C15u ^ seed * 0xD1B54A32D192ED03u;
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
    return z ^ (z >> 31);
}

static int is(const char *kind) { return strcmp(lie, kind) == 0; }

/* True for n of all blocks, the same ones every time. */
static int chosen(int64_t block, int64_t n, uint64_t seed)
{
    int64_t blocks = size_bytes / BLOCK;
    if (n == 0)
        return 0;
    int64_t each = blocks / n;
    return block % each == (int64_t)(dice(block / each, seed) % each) && block / each < n;
}

static int lost(int64_t block)
{
    int64_t at = block * BLOCK;
    if (is("drop") || is("ff") || is("old") || is("top"))
        return at >= true_bytes;
    if (is("odd"))
        return at >> 20 & 1;
    return is("scatter") && (int64_t)(dice(block, 7) % 10000) < part;
}

static int64_t place(int64_t at)
{
    if (is("wrap"))
        return at % true_bytes;
    if (is("fold") && at >= true_bytes)
        return window_start + (at - true_bytes) % window_bytes;
    return at;
}

static void keep(int64_t block, const uint8_t *data)
{
    if (lost(block))
        return;
    if (is("stale") && block * BLOCK >= true_bytes) {
        if (given[block])
            return;
        given[block] = 1;
    }
    if (is("grow") && !given[block]) {
        if (given_count >= true_bytes / BLOCK)
            return;
        given[block] = 1;
        given_count++;
    }
    for (int i = 0; i < BLOCK; i += 512)
        memcpy(store + place(block * BLOCK + i), data + i, 512);
}

static void fetch(int64_t block, uint8_t *data)
{
    if (lost(block)) {
        memset(data, is("ff") ? 0xFF : 0, BLOCK);
        for (int i = 0; is("old") && i < BLOCK; i += 8)
            *(uint64_t *)(data + i) = dice(block * BLOCK + i, 3);
        return;
    }
    for (int i = 0; i < BLOCK; i += 512)
        memcpy(data + i, store + place(block * BLOCK + i), 512);
}

static void write_block(int64_t block, const uint8_t *data)
{
    if (cache_blocks == 0) {
        keep(block, data);
        return;
    }
    int64_t slot = slot_of[block] - 1;
    if (slot < 0) {
        slot = next_slot;
        next_slot = (next_slot + 1) % cache_blocks;
        if (block_of[slot] >= 0) {
            keep(block_of[slot], cache + slot * BLOCK);
            slot_of[block_of[slot]] = 0;
        }
        block_of[slot] = block;
        slot_of[block] = (int32_t)slot + 1;
    }
    memcpy(cache + slot * BLOCK, data, BLOCK);
}

static int read_block(int64_t block, uint8_t *data)
{
    if (is("top") && lost(block))
        return -EIO;
    if (cache_blocks > 0 && slot_of[block] > 0)
        memcpy(data, cache + (slot_of[block] - 1) * (int64_t)BLOCK, BLOCK);
    else
        fetch(block, data);
    if (chosen(block, bad, 11))
        return -EIO;
    if (chosen(block, flips, 12))
        data[dice(block, 13) % BLOCK] ^= 16;
    return 0;
}

/* Counts a call and says whether it fails by an event. */
static int fails(int kind, int64_t blocks)
{
    struct timespec now;
    if (slow_us > 0)
        usleep(slow_us);
    clock_gettime(CLOCK_MONOTONIC, &now);
    int due = event.mode != 0 && kind == event.kind && moved[kind] >= event.at;
    if (event.mode == 1) {
        if (due && !was_away) {
            is_away = was_away = 1;
            away_since = now;
        }
        if (is_away && (now.tv_sec - away_since.tv_sec) * 1000 + (now.tv_nsec - away_since.tv_nsec) / 1000000 >= event.ms)
            is_away = 0;
    } else if (event.mode == 2 && due) {
        event.mode = 0;
        return 1;
    } else if (event.mode == 3 && due) {
        is_away = 1;
    }
    if (is_away)
        return 1;
    moved[kind] += blocks;
    return 0;
}

static int card_getattr(const char *path, struct stat *st, struct fuse_file_info *fi)
{
    (void)fi;
    memset(st, 0, sizeof *st);
    st->st_mode = strcmp(path, "/") == 0 ? S_IFDIR | 0700 : S_IFREG | 0600;
    st->st_nlink = 1;
    st->st_size = strcmp(path, path_name) == 0 ? size_bytes : 0;
    return strcmp(path, "/") == 0 || strcmp(path, path_name) == 0 ? 0 : -ENOENT;
}

static int card_open(const char *path, struct fuse_file_info *fi)
{
    fi->direct_io = 1;
    return strcmp(path, path_name) == 0 ? 0 : -ENOENT;
}

static int card_read(const char *path, char *buffer, size_t length, off_t offset, struct fuse_file_info *fi)
{
    (void)path;
    (void)fi;
    uint8_t block[BLOCK];
    if (offset >= size_bytes)
        return 0;
    if (offset + (int64_t)length > size_bytes)
        length = size_bytes - offset;
    pthread_mutex_lock(&gate);
    int error = fails(READ, (length + BLOCK - 1) / BLOCK) ? -EIO : 0;
    for (size_t done = 0; error == 0 && done < length;) {
        size_t from = (offset + done) % BLOCK, n = BLOCK - from < length - done ? BLOCK - from : length - done;
        error = read_block((offset + done) / BLOCK, block);
        memcpy(buffer + done, block + from, n);
        done += n;
    }
    pthread_mutex_unlock(&gate);
    return error ? error : (int)length;
}

static int card_write(const char *path, const char *buffer, size_t length, off_t offset, struct fuse_file_info *fi)
{
    (void)path;
    (void)fi;
    uint8_t block[BLOCK];
    if (offset + (int64_t)length > size_bytes)
        return -ENOSPC;
    pthread_mutex_lock(&gate);
    if (prepare_ms > 0)
        usleep(1000 * prepare_ms);
    prepare_ms = 0;
    int error = fails(WRITE, (length + BLOCK - 1) / BLOCK) ? -EIO : 0;
    if (refuse_from >= 0 && moved[WRITE] >= refuse_from)
        error = -EIO;
    for (int64_t b = offset / BLOCK; error == 0 && b * BLOCK < offset + (int64_t)length; b++)
        error = chosen(b, refusals, 14) ? -EIO : 0;
    for (size_t done = 0; error == 0 && done < length;) {
        size_t from = (offset + done) % BLOCK, n = BLOCK - from < length - done ? BLOCK - from : length - done;
        if (n < BLOCK && read_block((offset + done) / BLOCK, block) != 0)
            memset(block, 0, BLOCK);
        memcpy(block + from, buffer + done, n);
        write_block((offset + done) / BLOCK, block);
        done += n;
    }
    pthread_mutex_unlock(&gate);
    return error ? error : (int)length;
}

static int card_fsync(const char *path, int datasync, struct fuse_file_info *fi)
{
    (void)path;
    (void)datasync;
    (void)fi;
    pthread_mutex_lock(&gate);
    int error = fails(FLUSH, 1) ? -EIO : 0;
    pthread_mutex_unlock(&gate);
    return error;
}

static int card_discard(const char *path, int mode, off_t offset, off_t length, struct fuse_file_info *fi)
{
    (void)path;
    (void)fi;
    if ((mode & FALLOC_FL_PUNCH_HOLE) == 0 && (mode & FALLOC_FL_ZERO_RANGE) == 0)
        return -EOPNOTSUPP;
    pthread_mutex_lock(&gate);
    static const uint8_t zeros[BLOCK];
    for (int64_t b = (offset + BLOCK - 1) / BLOCK; (b + 1) * BLOCK <= offset + length && (b + 1) * BLOCK <= size_bytes; b++)
        write_block(b, zeros);
    pthread_mutex_unlock(&gate);
    return 0;
}

static const struct fuse_operations operations = {
    .getattr = card_getattr, .open = card_open, .read = card_read, .write = card_write, .fsync = card_fsync, .fallocate = card_discard,
};

static int kind_of(const char *text)
{
    return strncmp(text, "write", 5) == 0 ? WRITE : strncmp(text, "read", 4) == 0 ? READ : FLUSH;
}

static int parse(const char *argument)
{
    const char *value = strchr(argument, '=');
    if (value == NULL)
        return 1;
    size_t key = value++ - argument;
    int64_t number = atoll(value);
    struct { const char *name; int64_t *into; } numbers[] = {
        { "size", &size_bytes }, { "true", &true_bytes }, { "window", &window_start }, { "windowlen", &window_bytes }, { "part", &part },
        { "bad", &bad }, { "flip", &flips }, { "refuse", &refusals }, { "refusefrom", &refuse_from }, { "cache", &cache_blocks }, { "slow", &slow_us }, { "prepare", &prepare_ms },
    };
    for (size_t i = 0; i < sizeof numbers / sizeof *numbers; i++)
        if (strlen(numbers[i].name) == key && strncmp(argument, numbers[i].name, key) == 0) {
            *numbers[i].into = number;
            return 0;
        }
    if (strncmp(argument, "lie=", 4) == 0) {
        snprintf(lie, sizeof lie, "%s", value);
        return 0;
    }
    event.mode = strncmp(argument, "away=", 5) == 0 ? 1 : strncmp(argument, "once=", 5) == 0 ? 2 : strncmp(argument, "gone=", 5) == 0 ? 3 : 0;
    if (event.mode == 0)
        return 1;
    event.kind = kind_of(value);
    const char *at = strchr(value, ':');
    event.at = at ? atoll(at + 1) : 0;
    const char *ms = at ? strchr(at + 1, ':') : NULL;
    event.ms = ms ? atoll(ms + 1) : 0;
    return 0;
}

/* Memory that begins as zeros. Much of it lies in a sparse file without a name, so that several large cards have room beside each other. */
static void *room(int64_t bytes)
{
    int file = -1;
    if (bytes > FILE_FROM && ((file = open("/var/tmp", O_TMPFILE | O_RDWR | O_CLOEXEC, 0600)) < 0 || ftruncate(file, bytes) != 0)) {
        perror("card: file");
        exit(1);
    }
    void *memory = mmap(NULL, bytes > 0 ? bytes : 1, PROT_READ | PROT_WRITE, file < 0 ? MAP_PRIVATE | MAP_ANONYMOUS | MAP_NORESERVE : MAP_SHARED, file, 0);
    if (memory == MAP_FAILED) {
        perror("card: memory");
        exit(1);
    }
    return memory;
}

int main(int argc, char **argv)
{
    for (int i = 2; i < argc; i++)
        if (parse(argv[i]) != 0) {
            fprintf(stderr, "card: \"%s\" is no KEY=VALUE of a card\n", argv[i]);
            return 2;
        }
    if (argc < 2 || size_bytes < BLOCK) {
        fprintf(stderr, "usage: card MOUNTPOINT KEY=VALUE...\n");
        return 2;
    }
    int64_t blocks = size_bytes / BLOCK + 1;
    store = room(size_bytes + BLOCK);
    given = room(blocks);
    if (cache_blocks > 0) {
        cache = room(cache_blocks * BLOCK);
        slot_of = room(blocks * sizeof *slot_of);
        block_of = room(cache_blocks * sizeof *block_of);
        for (int64_t i = 0; i < cache_blocks; i++)
            block_of[i] = -1;
    }
    char *arguments[] = { argv[0], "-f", "-s", argv[1], NULL };
    return fuse_main(4, arguments, &operations, NULL);
}
