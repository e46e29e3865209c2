/* Loaded before the C library: while the file named by SYNC_FAILS stands there, no file can be made safe on the disk.
   If it holds anything, it is taken away at the first failure, so that the next try works. */
#define _GNU_SOURCE
#include <errno.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <unistd.h>

static int fails(void) {
    const char *path = getenv("SYNC_FAILS");
    struct stat found;
    if (path == NULL || stat(path, &found) != 0) return 0;
    if (found.st_size > 0) unlink(path);
    errno = EIO;
    return 1;
}

int fsync(int fd) { return fails() ? -1 : (int)syscall(SYS_fsync, fd); }

int fdatasync(int fd) { return fails() ? -1 : (int)syscall(SYS_fdatasync, fd); }
