using Cardassay.Agent.BlockIo;

namespace Cardassay.Agent.Commands;

/// <summary>A target and the sole use of its device; both can be let go and had again while the card is out of its slot.</summary>
internal sealed class HeldTarget : IDisposable
{
    private readonly Func<DeviceLock?> _take;
    private readonly Func<IBlockTarget> _open;
    private DeviceLock? _alone;

    internal HeldTarget(Func<DeviceLock?> take, Func<IBlockTarget> open)
    {
        _take = take;
        _open = open;
        _alone = take();
        try
        {
            Target = open();
        }
        catch (CommandException)
        {
            _alone?.Dispose();
            throw;
        }
    }

    internal IBlockTarget Target { get; private set; }

    /// <summary>Lets go of the device.</summary>
    internal void Release()
    {
        Target.Dispose();
        _alone?.Dispose();
        _alone = null;
    }

    /// <summary>Takes it again.</summary>
    /// <exception cref="CommandException">It cannot be had.</exception>
    internal void TakeAgain()
    {
        _alone = _take();
        Target = _open();
    }

    public void Dispose() => Release();
}
