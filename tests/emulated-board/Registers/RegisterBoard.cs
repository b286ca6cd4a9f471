namespace Cardassay.EmulatedBoard.Registers;

/// <summary>The tests that share the board of the register tests.</summary>
[CollectionDefinition(Name)]
public sealed class RegisterBoard : ICollectionFixture<RegisterGuest>
{
    /// <summary>Name of the collection.</summary>
    public const string Name = "register board";
}
