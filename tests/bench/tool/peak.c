/* peak FILE PROGRAM ARGS...: runs a program and writes the most memory that it held, in kiB, into FILE. A small program
 * of its own, because a child counts what its parent held when it was made. */
#include <stdio.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

int main(int argc, char **argv)
{
    int status = -1;
    struct rusage use;
    if (argc < 3) return 2;
    pid_t pid = fork();
    if (pid == 0) {
        execv(argv[2], argv + 2);
        _exit(127);
    }
    if (pid < 0 || waitpid(pid, &status, 0) != pid || status != 0 || getrusage(RUSAGE_CHILDREN, &use) != 0) return 1;
    FILE *f = fopen(argv[1], "we");
    return f && fprintf(f, "%ld\n", use.ru_maxrss) > 0 && fclose(f) == 0 ? 0 : 1;
}
