using System.Globalization;
using Cardassay.EmulatedBoard.Harness;
using Cardassay.Fixtures;
using Xunit.Abstractions;

namespace Cardassay.Packages.Tests.Booted;

/// <summary>
/// Booted Debians with a network of their own between them: systemd is the first process of each, and each is a container that sees nothing of this
/// machine but its kernel. They share one installed root and write into memory, so that every machine begins clean.
/// </summary>
internal sealed class Machines : IAsyncDisposable
{
    /// <summary>The documented names of the packages, as they lie in the home folder of the person who types.</summary>
    internal const string CollectorFile = "cardassay-collector_0.1.0_amd64.deb", AgentFile = "cardassay-agent_0.1.0_arm64.deb";

    /// <summary>Who types.</summary>
    internal const string Person = "robin";

    /// <summary>For documentation (RFC 5737); the network is behind no door of this machine.</summary>
    private const string Network = "192.0.2.";

    // Each container is in a control group of its own, in whichever hierarchies are there: nspawn divides the group it was started in.
    // It dies with the shell that started it, which ends when this process does.
    private const string Boot = """
        boot() {
            (
                for tree in /sys/fs/cgroup/systemd /sys/fs/cgroup/unified /sys/fs/cgroup; do
                    [ -e $tree/cgroup.procs ] || continue
                    mkdir -p $tree/cardassay-$1-$$ && echo $BASHPID > $tree/cardassay-$1-$$/cgroup.procs
                done
                exec setpriv --pdeathsig KILL systemd-nspawn --quiet --boot --volatile=overlay --register=no --keep-unit --console=pipe \
                    --network-bridge=bench0 --machine=$1 --directory="$2" "${@:3}" < /dev/null > "$2.$1.log" 2>&1
            ) &
            host=$!
            for i in $(seq 300); do
                first=$(pgrep -P $host -x systemd) && nsenter -t $first -a test -S /run/dbus/system_bus_socket && break
                kill -0 $host && sleep 0.1 || break
            done
            nsenter -t $first -a systemctl is-system-running --wait
        }
        leave() {
            for tree in /sys/fs/cgroup/systemd /sys/fs/cgroup/unified /sys/fs/cgroup; do
                [ ! -d $tree/cardassay-$1-$$ ] || find $tree/cardassay-$1-$$ -depth -type d -exec rmdir {} +
            done
        }
        """;

    private readonly CleanRoot _root;
    private readonly Shell _shell;
    private readonly ITestOutputHelper _output;
    private readonly List<Machine> _machines = [];

    private Machines(CleanRoot root, Shell shell, ITestOutputHelper output)
    {
        _root = root;
        _shell = shell;
        _output = output;
    }

    /// <summary>Makes the network and the root. Skips the calling test where this machine cannot boot one.</summary>
    /// <param name="output">Gets every command and its answer.</param>
    /// <param name="packages">What lies in the person's home folder: the names, and the packages' files.</param>
    internal static async Task<Machines> CreateAsync(ITestOutputHelper output, params (string Name, string File)[] packages)
    {
        Tools.Require("systemd-nspawn", "pgrep", "nsenter", "setpriv", "ip", "mkfs.ext4", "losetup");
        CleanRoot root = await CleanRoot.CreateAsync();
        File.Delete(root.At("/usr/sbin/policy-rc.d")); // services do start here
        File.WriteAllText(root.At("/etc/machine-id"), ""); // each machine makes its own
        File.Delete(root.At("/etc/hostname")); // nspawn gives each its own
        (await root.RunAsync("useradd", "--create-home", "--shell", "/bin/bash", Person)).Expect(0);
        File.WriteAllText(root.At("/etc/sudoers.d/person"), $"{Person} ALL=(ALL) NOPASSWD: ALL\n");
        foreach ((string name, string file) in packages)
        {
            File.Copy(file, root.At($"/home/{Person}/{name}"));
        }

        Shell shell = Shell.Start(output.WriteLine, ["unshare", "--mount", "--net", "bash", "--norc"]);
        var machines = new Machines(root, shell, output);
        try
        {
            await shell.SucceedAsync("mount -t tmpfs none /run && ip link set lo up && ip link add bench0 type bridge && ip link set bench0 up");
            await shell.SucceedAsync(Boot);
            return machines;
        }
        catch
        {
            await machines.DisposeAsync();
            throw;
        }
    }

    /// <summary>Boots one.</summary>
    /// <param name="name">Its name.</param>
    /// <param name="cardMegabytes">Size of the card that is mounted at /media/card, a block device with ext4; 0 for no card.</param>
    internal async Task<Machine> BootAsync(string name, int cardMegabytes = 0)
    {
        string options = "";
        if (cardMegabytes > 0)
        {
            string card = $"{_root.Folder}.{name}";
            await _shell.SucceedAsync(string.Create(CultureInfo.InvariantCulture,
                $"truncate -s {cardMegabytes}M {card}.img && mkfs.ext4 -q -F {card}.img && mkdir {card} && mount -o loop {card}.img {card}"));
            options = $"--bind={card}:/media/card";
        }

        Typed booted = await _shell.TypeAsync($"boot {name} {_root.Folder} {options}");
        if (booted.ExitCode != 0 && !booted.Printed.Contains("degraded", StringComparison.Ordinal))
        {
            Tools.Unavailable($"a Debian cannot be booted in a container here: {booted.Printed}\n{File.ReadAllText($"{_root.Folder}.{name}.log")}");
        }

        string first = await _shell.SucceedAsync("echo $first");
        string address = string.Create(CultureInfo.InvariantCulture, $"{Network}{10 + _machines.Count}");
        await _shell.SucceedAsync($"nsenter -t {first} -n sh -c 'ip addr add {address}/24 dev host0 && ip link set host0 up' && nsenter -t {first} -m sh -c 'echo 127.0.1.1 {name} >> /etc/hosts'");
        var machine = new Machine(name, first, await _shell.SucceedAsync("echo $host"), address, _output);
        _machines.Add(machine);
        return machine;
    }

    /// <summary>Everything is switched off; nothing is left on this machine.</summary>
    public async ValueTask DisposeAsync()
    {
        foreach (Machine machine in _machines)
        {
            await machine.DisposeAsync();
            await _shell.TypeAsync($"kill -RTMIN+4 {machine.FirstProcess}"); // systemd(1): power off
        }

        foreach (Machine machine in _machines)
        {
            await _shell.TypeAsync($"for i in $(seq 100); do kill -0 {machine.HostProcess} 2> /dev/null && sleep 0.1; done; kill -KILL {machine.HostProcess} 2> /dev/null; wait {machine.HostProcess}; leave {machine.Name}");
            await _shell.TypeAsync($"umount {_root.Folder}.{machine.Name} && rmdir {_root.Folder}.{machine.Name}; rm -f {_root.Folder}.{machine.Name}.img {_root.Folder}.{machine.Name}.log");
        }

        await _shell.DisposeAsync();
        _root.Dispose();
    }
}
