using System.Diagnostics;
using Cardassay.Agent.BlockIo;
using Cardassay.Agent.Trials;

namespace Cardassay.Benchmarks;

/// <summary>The engine's side of a pair: a trial of a fixed number of operations with everything recorded and checked.</summary>
internal sealed class EngineSide : IDisposable
{
    private readonly DeviceTarget _target;
    private readonly ContentMap _map;
    private ulong _seed = 1;

    public EngineSide(string device)
    {
        _target = DeviceTarget.Open(device, forWriting: true);
        _map = new ContentMap(_target.SizeBytes);
        RunPreparation.Run([(0, _target.SizeBytes)], 1, _map, 99, spec => TrialEngine.Run(spec, _target, _map, null, CancellationToken.None));
    }

    public long SizeBytes => _target.SizeBytes;

    public Sample Run(TrialSpec spec)
    {
        using Process self = Process.GetCurrentProcess();
        TimeSpan before = self.TotalProcessorTime;
        TrialRaw raw = TrialEngine.Run(spec with { Seed = _seed++ }, _target, _map, null, CancellationToken.None);
        self.Refresh();
        if (raw.End != TrialEnd.Finished || raw.Operations != spec.OperationsAtMost || raw.Mismatches + raw.UnknownBlocks != 0)
        {
            throw new InvalidOperationException($"The trial went wrong: {raw.End}, {raw.Operations} operations, {raw.Mismatches} mismatches.");
        }

        return new Sample(raw.ElapsedNs, (self.TotalProcessorTime - before).TotalNanoseconds);
    }

    public void Dispose() => _target.Dispose();
}
