// The bare loop the engine is held against: the same system calls at random offsets, nothing recorded, nothing checked.
// loop DEVICE r|w DEPTH OPERATIONS BLOCK -> elapsed ns and CPU ns of all operations
#define _GNU_SOURCE
#include <fcntl.h>
#include <pthread.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>
#include <unistd.h>

static int fd, writes;
static long operations, block, blocks;
static pthread_barrier_t start;

static uint64_t mix(uint64_t *state)
{
    uint64_t z = (*state += 0x9E3779B97F4A7C15ull);
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9ull;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBull;
    return z ^ (z >> 31);
}

static long now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return t.tv_sec * 1000000000L + t.tv_nsec;
}

static void *slot(void *argument)
{
    uint64_t state = (uint64_t)(intptr_t)argument;
    char *buffer;
    if (posix_memalign((void **)&buffer, 4096, block)) exit(1);
    for (long i = 0; i < block / 8; i++) ((uint64_t *)buffer)[i] = mix(&state);
    pthread_barrier_wait(&start);
    for (long i = 0; i < operations; i++) {
        long offset = (long)(((unsigned __int128)mix(&state) * blocks) >> 64) * block;
        long n = writes ? pwrite(fd, buffer, block, offset) : pread(fd, buffer, block, offset);
        if (n != block) { perror("transfer"); exit(1); }
    }
    return 0;
}

int main(int argc, char **argv)
{
    if (argc != 6) return 2;
    writes = argv[2][0] == 'w';
    int depth = atoi(argv[3]);
    block = atol(argv[5]);
    operations = atol(argv[4]) / depth;
    fd = open(argv[1], O_RDWR | O_DIRECT);
    if (fd < 0) { perror(argv[1]); return 1; }
    blocks = lseek(fd, 0, SEEK_END) / block;
    pthread_t threads[64];
    pthread_barrier_init(&start, 0, depth + 1);
    for (long i = 0; i < depth; i++) pthread_create(&threads[i], 0, slot, (void *)(i + 1 + now()));
    struct rusage before, after;
    getrusage(RUSAGE_SELF, &before);
    pthread_barrier_wait(&start);
    long begun = now();
    for (int i = 0; i < depth; i++) pthread_join(threads[i], 0);
    if (writes) fdatasync(fd);
    long ended = now();
    getrusage(RUSAGE_SELF, &after);
    long cpu = (after.ru_utime.tv_sec - before.ru_utime.tv_sec + after.ru_stime.tv_sec - before.ru_stime.tv_sec) * 1000000000L
             + (after.ru_utime.tv_usec - before.ru_utime.tv_usec + after.ru_stime.tv_usec - before.ru_stime.tv_usec) * 1000L;
    printf("%ld %ld\n", ended - begun, cpu);
    return 0;
}
