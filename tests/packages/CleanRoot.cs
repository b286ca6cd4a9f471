using Cardassay.EmulatedBoard.Harness;

namespace Cardassay.Packages.Tests;

/// <summary>A freshly installed Debian in a folder, without any running service: what a package is installed into.</summary>
internal sealed class CleanRoot : IDisposable
{
    private const string Suite = "bookworm";

    /// <summary>What the packages need and recommend, and what the documented commands name besides.</summary>
    private static readonly string[] Included = ["systemd-sysv", "libssl3", "dbus", "udev", "sudo", "adduser", "curl"];

    private CleanRoot(string folder) => Folder = folder;

    /// <summary>The folder that is its root.</summary>
    internal string Folder { get; }

    /// <summary>Makes one. Skips the calling test where the machine cannot have one.</summary>
    internal static async Task<CleanRoot> CreateAsync()
    {
        Tools.RequireRoot();
        string key = string.Join('-', [Suite, .. Included]);
        string kept = await CacheFolder.ObtainAsync("root", key, async partial =>
        {
            Ran ran = await Ran.ItAsync(
                "mmdebstrap", "--quiet", "--variant=minbase", $"--include={string.Join(',', Included)}",
                "--dpkgopt=path-exclude=/usr/share/man/*", "--dpkgopt=path-exclude=/usr/share/locale/*", "--dpkgopt=path-exclude=/usr/share/doc/*",
                "--dpkgopt=path-include=/usr/share/doc/cardassay*", "--dpkgopt=path-include=/usr/share/man/man?/cardassay*",
                Suite, Path.Combine(partial, "root.tar"));
            if (ran.ExitCode != 0)
            {
                Tools.Unavailable($"a Debian root cannot be made: {ran.Said}");
            }
        });

        // On a real file system: direct I/O means nothing in memory.
        string folder = Directory.CreateDirectory($"/var/tmp/cardassay-root-{Guid.NewGuid():N}").FullName;
        (await Ran.ItAsync("tar", "-xf", Path.Combine(kept, "root.tar"), "-C", folder)).Expect(0);
        string policy = Path.Combine(folder, "usr/sbin/policy-rc.d");
        File.WriteAllText(policy, "#!/bin/sh\nexit 101\n");
        File.SetUnixFileMode(policy, (UnixFileMode)0b111_101_101);
        return new CleanRoot(folder);
    }

    /// <summary>Path on this machine of a path in the root.</summary>
    internal string At(string path) => Path.Combine(Folder, path.TrimStart('/'));

    /// <summary>The command line of a program in the root, with its own /proc and this machine's devices. Its mounts go with it.</summary>
    internal string[] CommandLine(params IEnumerable<string> command) =>
    [
        "unshare", "--mount", "--", "/bin/sh", "-c", "mount -t proc proc \"$0/proc\" && mount --rbind /dev \"$0/dev\" && exec chroot \"$0\" \"$@\"", Folder, .. command,
    ];

    /// <summary>Runs a program in the root.</summary>
    internal Task<Ran> RunAsync(params IEnumerable<string> command) => Ran.ItAsync("/usr/bin/env", ["-i", "PATH=/usr/sbin:/usr/bin:/sbin:/bin", "HOME=/root", "LC_ALL=C.UTF-8", "DEBIAN_FRONTEND=noninteractive", .. CommandLine(command)]);

    /// <summary>Runs a program in the root as a user.</summary>
    internal Task<Ran> RunAsAsync(string user, params IEnumerable<string> command) =>
        RunAsync(["setpriv", $"--reuid={user}", $"--regid={user}", "--init-groups", "--no-new-privs", "--bounding-set=-all", .. command]);

    /// <summary>Installs packages that lie on this machine.</summary>
    internal Task<Ran> InstallAsync(params IEnumerable<string> packages) => DpkgAsync([], packages);

    /// <summary>The same, with configuration files that both sides changed left as they are, which dpkg asks for otherwise.</summary>
    internal Task<Ran> InstallKeepingConfigurationAsync(params IEnumerable<string> packages) => DpkgAsync(["--force-confold"], packages);

    private async Task<Ran> DpkgAsync(string[] options, IEnumerable<string> packages)
    {
        var inside = new List<string>();
        foreach (string package in packages)
        {
            string name = $"/root/{Guid.NewGuid():N}.deb";
            File.Copy(package, At(name));
            inside.Add(name);
        }

        Ran ran = await RunAsync(["dpkg", .. options, "--install", .. inside]);
        inside.ForEach(name => File.Delete(At(name)));
        return ran;
    }

    /// <summary>State of a package as dpkg says it ("installed", "config-files", ...); empty when it knows none.</summary>
    internal async Task<string> StateAsync(string package) =>
        (await RunAsync("dpkg-query", "-W", "-f", "${db:Status-Status}", package)).Output;

    public void Dispose() => Directory.Delete(Folder, recursive: true);
}
